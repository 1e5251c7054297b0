"""What stands on the scale while a batch is split: which cup, and since when. Volatile; losing
it costs a word of the builder's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from mixer.pour.cups import cups_of, held_ug, own_cup
from mixer.pour.fillers import Filler
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour

LEAST_UG = 500_000  # of a share: less is what a hand leaves on a cup (our choice)
NEAR_OWN_UG = 1_500_000  # what a stick takes along of the batch's own cup (our choice)
LEAST_OWN_UG = 5_000_000  # left in it, by which it is told from an empty cup (our choice)
LEFT_UG = 1_500_000  # by which a cup is heavier than empty, if anything is left in it (our choice)
ONE_SORT_UG = 500_000  # by which empty cups of one sort differ at most (our choice)


@dataclass(frozen=True, slots=True)
class Filling:
    """Filler is going into this cup. ``base`` is what the scale showed before, ``asked``: it
    was said that the scale does not tell what went in."""

    cup: int
    filler: Filler
    start_ug: int | None
    base: Rest | None = None
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Sharing:
    """What stands on the scale while a batch is split; volatile. ``free_cup`` is the number that
    the next cup would get, 0 where that is not known; ``empty``: the pan was seen empty, and
    nothing has come to rest there since; ``tare`` is an empty cup, ``seen`` what stood there last
    with something in it; ``cup`` one that is known, ``alike`` those of which it is one, by its
    weight; ``lost``: it may be any; ``grosses`` what each of the cups weighed when something was
    last weighed in it; ``ending``: it was said that one more ``go`` ends it."""

    free_cup: int = 0
    empty: bool = False
    tare: Rest | None = None
    seen: Rest | None = None
    cup: int | None = None
    alike: tuple[int, ...] = ()
    lost: bool = False
    filling: Filling | None = None
    grosses: Mapping[int, Rest] = field(default_factory=dict)
    ending: bool = False


def content(sharing: Sharing, sight: Sight, now_s: float) -> Rest | None:
    """The cup on the scale with a share in it, at rest; ``None``: there is none."""
    rest, tare = sight.recent_rest(now_s), sharing.tare
    if rest is None or tare is None or rest.frame != tare.frame:
        return None
    least_ug = max(LEAST_UG, 3 * sight.division_ug)
    return rest if rest.mass_ug - tare.mass_ug >= least_ug else None


def base_of(pour: Pour, sharing: Sharing, sight: Sight, cup: int, now_s: float) -> Rest | None:
    """What the scale showed before any filler went into this cup. Of one that is known, what it
    weighed when it was taken down: some may have gone in before the filler was named. Filler
    that was not weighed is no part of what is weighed after it."""
    known = None if is_adrift(pour, cup) else sharing.grosses.get(cup)
    if not may_be_on_scale(pour, sharing, cup):
        return known if sharing.empty else None
    if known and sharing.tare and known.mass_ug > sharing.tare.mass_ug:
        return sharing.tare  # some was used
    return known or sharing.tare or sight.recent_rest(now_s)


def may_be_on_scale(pour: Pour, sharing: Sharing, cup: int) -> bool:
    """Whether this cup, which the builder named, can be the one that stands there."""
    if sharing.cup is not None or sharing.alike:
        return cup == sharing.cup or cup in sharing.alike
    if sharing.tare is not None:
        return _may_have_some(pour, sharing.tare, _empty_ug(pour).get(cup))
    return sharing.lost


def may_be(pour: Pour, sharing: Sharing) -> list[int]:
    """Those of the batch's cups that can stand there; all, where none of them can."""
    cups = cups_of(pour)
    return [cup for cup in cups if may_be_on_scale(pour, sharing, cup)] or cups


def is_doubtful(pour: Pour, sharing: Sharing) -> bool:
    """Whether what was taken for an empty cup may be one of the batch's that comes back."""
    tare, empty_ug = sharing.tare, _empty_ug(pour).values()
    return tare is not None and any(_may_have_some(pour, tare, one) for one in empty_ug)


def _may_have_some(pour: Pour, rest: Rest, empty_ug: int | None) -> bool:
    """Whether a cup that weighed so much when it was empty (``None``: nobody weighed it) may
    stand there with something left in it: not where an empty one of that weight was seen."""
    if any(abs(rest.mass_ug - one) <= ONE_SORT_UG for one in _empty_ug(pour).values()):
        return False
    return empty_ug is None or rest.mass_ug - empty_ug > LEFT_UG


def _empty_ug(pour: Pour) -> dict[int, int]:
    """What those of the batch's cups weighed, empty, of which it is known."""
    own = {} if pour.tared is None else {own_cup(pour): pour.tared.tare_ug - pour.shift_ug}
    return own | {one.cup: one.tare_ug for one in pour.shares if one.tare_ug is not None}


def known_cups(pour: Pour, sharing: Sharing, rest: Rest, division_ug: int) -> tuple[int, ...]:
    """Which cup of the batch came to the scale, or which these may be; none that is known."""
    near_ug = max(200_000, 2 * division_ug)
    found = {
        c for c, gross in sharing.grosses.items() if abs(rest.mass_ug - gross.mass_ug) <= near_ug
    }
    return tuple(sorted(found | ({own_cup(pour)} if _is_own(pour, rest) else set())))


def is_filled(pour: Pour, sharing: Sharing, filling: Filling, rest: Rest, division_ug: int) -> bool:
    """Whether the cup that filler goes into is the one that came back to the scale."""
    if filling.base is None or rest.mass_ug < filling.base.mass_ug - NEAR_OWN_UG:
        return False
    return set(known_cups(pour, sharing, rest, division_ug)) <= {filling.cup}


def may_be_own(pour: Pour, rest: Rest) -> bool:
    """Whether the batch's own cup can weigh so much, with all that can be left in it."""
    if pour.tared is None:
        return False
    empty_ug = (pour.tared.zero_ug or 0) if pour.moved else pour.tared.tare_ug - pour.shift_ug
    return rest.mass_ug >= empty_ug + (held_ug(pour, own_cup(pour)) or 0) - NEAR_OWN_UG


def is_adrift(pour: Pour, cup: int) -> bool:
    """Whether its last filler was not weighed on the scale: it may go in any moment."""
    weights = [one.weights for one in pour.filled if one.cup == cup]
    return bool(weights) and weights[-1] != "scale"


def _is_own(pour: Pour, rest: Rest) -> bool:
    """Whether it is the batch's own cup, by what it was and what the shares took."""
    own = own_cup(pour)
    left = held_ug(pour, own)
    if pour.tared is None or pour.moved or left is None or left < LEAST_OWN_UG:
        return False
    if any(one.cup == own for one in pour.filled):
        return False
    due_ug = pour.tared.tare_ug + left - pour.shift_ug
    return abs(rest.mass_ug - due_ug) <= NEAR_OWN_UG
