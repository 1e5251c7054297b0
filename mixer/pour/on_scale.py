"""What stands on the scale while a batch is split: which cup, and since when. Volatile; losing
it costs a word of the builder's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from mixer.pour.cups import held_ug, own_cup
from mixer.pour.fillers import Filler
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour

LEAST_UG = 500_000  # of a share: less is what a hand leaves on a cup (our choice)
NEAR_OWN_UG = 1_500_000  # what a stick takes along of the batch's own cup (our choice)
LEAST_OWN_UG = 5_000_000  # left in it, by which it is told from an empty cup (our choice)


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
    the next cup would get, 0 where that is not known; ``empty``: the pan was seen empty;
    ``tare`` is an empty cup, ``seen`` what stood there last with something in it; ``cup`` one
    that is known; ``grosses`` what each of the cups weighed when something was last weighed in
    it; ``ending``: it was said that one more ``go`` ends it."""

    free_cup: int = 0
    empty: bool = False
    tare: Rest | None = None
    seen: Rest | None = None
    cup: int | None = None
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


def base_of(sharing: Sharing, sight: Sight, cup: int, now_s: float) -> Rest | None:
    """What the scale showed before any filler went into this cup. Of one that is known, what it
    weighed when it was taken down: some may have gone in before the filler was named."""
    known = sharing.grosses.get(cup)
    if sharing.empty or (known is not None and sharing.cup == cup):
        return known
    # Else another cup stands there.
    return sight.recent_rest(now_s) if sharing.cup in (None, cup) else None


def known_cup(pour: Pour, sharing: Sharing, rest: Rest, division_ug: int) -> int | None:
    """Which cup of the batch came to the scale; ``None``: none that is known."""
    near_ug = max(200_000, 2 * division_ug)
    for cup, gross in sharing.grosses.items():
        if abs(rest.mass_ug - gross.mass_ug) <= near_ug:
            return cup
    return own_cup(pour) if _is_own(pour, rest) else None


def _is_own(pour: Pour, rest: Rest) -> bool:
    """Whether it is the batch's own cup, by what it was and what the shares took."""
    left = held_ug(pour, own_cup(pour))
    if pour.tared is None or pour.moved or left is None or left < LEAST_OWN_UG:
        return False
    due_ug = pour.tared.tare_ug + left - pour.shift_ug
    return abs(rest.mass_ug - due_ug) <= NEAR_OWN_UG
