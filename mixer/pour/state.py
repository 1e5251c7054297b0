"""The durable state of one pour, and how each fact changes it.

``evolve`` is total and pure: it never decides, never refuses, never reads a clock.
Folding a batch's facts from the journal gives the same state as the live pour had,
which is what lets a pour go on after a crash. What is volatile (the last readings,
the flow, the cue) lives in :mod:`mixer.pour.sight` and :mod:`mixer.pour.coach`.

The stages::

    cup --tared--> pour --stirring--> stir --live--> live
     |              |  ^               |              ^
     |              |  |               +-live-> split-+  where it is to be split: shared,
     |              |  |                                 filled, and at last divided
     |              |  +-- called / begun / accepted, once or more for each component;
     |              |      parting / parted, where an over-pour leaves no room
     +--- ended ----+--------------------+

A pour may be *held* in any stage before ``live``: by hand, or by trouble with the
weight. A hold is no stage; it is laid over one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Literal

from mixer.pour.bands import Cup
from mixer.pour.cup_facts import (
    Divided,
    Filled,
    JugWeight,
    Moved,
    Shared,
    Splitting,
    Weighing,
)
from mixer.pour.facts import (
    RESTLESS,
    Accepted,
    Begun,
    Called,
    Capped,
    Doubted,
    Ended,
    Fact,
    Gained,
    Held,
    Jug,
    Kept,
    Live,
    Lost,
    Opened,
    Parted,
    Parting,
    Resumed,
    Stirring,
    Tared,
    Waited,
)
from mixer.pour.recipe import Terms

Stage = Literal["cup", "pour", "stir", "split", "live", "ended"]

BY_HAND = "by-hand"
RESTARTED = "restarted"  # the program was cut off, and goes on with the pour
HEARD = (
    "tared",
    "untared",
    "unit",
    "overload",
    "lifted",
)  # the scale was there, and kept its weight


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why the weight cannot be followed now, and the last one that could.

    ``at_ms`` is when it was first noticed; a second trouble on top of a first keeps its
    weight and its time. ``missed``: since then the scale was not always heard;
    ``pouring``: when it was first not heard, a stream may have run on; ``restarted``: the
    program itself was gone, and with it what it had seen; ``lifted``: the cup was off in it.
    """

    reason: str
    gross_ug: int
    at_ms: int
    pouring: bool = False
    missed: bool = False
    restarted: bool = False
    lifted: bool = False


@dataclass(frozen=True, slots=True)
class Pour:
    """One batch from the first cue to live. Times are milliseconds of the age clock;
    ``targets_ug`` is what was last asked for of each component, in all; ``jug`` the last tag
    that was read for the one that is called; ``system`` the resin's name. ``splits``: it is to
    be split once it is live, and ``shares`` and ``filled`` are what that came to so far.
    ``weighing`` is the component whose jug is to be weighed, ``jug_ms`` when one was last on the
    scale or asked for, ``jug_weights`` what was weighed of them."""

    terms: Terms
    system: str = ""
    stage: Stage = "cup"
    tared: Tared | None = None
    amounts_ug: tuple[int, ...] = ()
    poured: tuple[bool, ...] = ()
    targets_ug: tuple[int | None, ...] = ()
    last_accepted: int | None = None
    switches: int = 0
    runs: tuple[int, ...] = ()  # of each component
    late_ug: int = 0  # what was booked to the jug before since this one was called
    astray_ug: tuple[int, int] = (0, 0)
    strayed_ug: tuple[int, ...] = ()  # for the band of each component by itself
    out_ug: tuple[int, ...] = ()  # what was taken out of it again
    added_ug: int = 0
    division_ug: int = 0  # the coarsest step of this batch's weighings after the tare
    called: Called | None = None
    jug: Jug | None = None
    begun: bool = False
    begun_ms: int = 0
    lost_ms: int = 0
    lost_to_ug: int = 0
    parting: Parting | None = None
    held_by_hand: bool = False
    trouble: Trouble | None = None
    held_ms: int = 0  # when the weight could last not be followed any more
    astray_ms: int | None = None  # since then what is astray may be hardener
    shift_ug: int = 0
    unproven_because: str | None = None
    also_doubted: tuple[str, ...] = ()
    contact_ms: int | None = None
    stir_from_ms: int | None = None
    stir_ms: int = 0
    result: Live | Ended | None = None
    splits: bool = False
    moved: bool = False
    shares: tuple[Shared, ...] = ()
    filled: tuple[Filled, ...] = ()
    weighing: int | None = None
    jug_ms: int | None = None
    jug_weights: tuple[JugWeight, ...] = ()
    was_parted: bool = False
    paused_ms: int | None = None  # when the last pause that was put down had begun
    restless_in: int | None = None  # the component of which it was put down last
    heat_most_ug: int | None = None  # of all that is in the cup, for an addition
    kept: bool = False  # it is used out of band or without room, as the builder said

    @property
    def jugs_before(self) -> dict[int, int]:
        """What each jug weighed before it was poured from, the last time."""
        return {one.component: one.mass_ug for one in self.jug_weights if not one.after}

    @property
    def jugs_after(self) -> tuple[JugWeight, ...]:
        """The last weight after it, of each jug."""
        return tuple({one.component: one for one in self.jug_weights if one.after}.values())

    @property
    def doubts(self) -> tuple[str, ...]:
        """All that was doubted, in its order."""
        return (self.unproven_because, *self.also_doubted) if self.unproven_because else ()

    @property
    def cup(self) -> Cup:
        """What has been weighed so far, for the arithmetic of the bands."""
        if self.tared is None:
            raise ValueError("no cup has been tared yet")
        return Cup(
            self.terms,
            self.tared.tare_ug,
            max(self.tared.division_ug, self.division_ug),
            self.amounts_ug,
            self.poured,
            self.switches,
            self.astray_ug,
            self.added_ug,
            self.strayed_ug,
            self.out_ug,
            self.runs,
            self.heat_most_ug,
            self.kept,
        )

    def net_ug(self, gross_ug: int) -> int:
        """How much of the called component is in the cup when the scale carries this."""
        if self.called is None:
            raise ValueError("no component is being poured")
        return gross_ug - self.called.base_ug + self.called.before_ug

    def shown_net_ug(self, gross_ug: int) -> int:
        """The same as a face shows it: late drips are not yet this component's."""
        waiting = self.called is not None and self.called.late_drips and not self.begun
        return self.called.before_ug if waiting and self.called else self.net_ug(gross_ug)


def begin(opened: Opened) -> Pour:
    """The state in which every pour starts."""
    count = len(opened.terms.recipe.components)
    return Pour(
        opened.terms,
        system=str(opened.about.get("resin_system") or ""),
        amounts_ug=(0,) * count,
        poured=(False,) * count,
        targets_ug=(None,) * count,
        strayed_ug=(0,) * count,
        stir_ms=opened.terms.stir_ms,
    )


def evolve(pour: Pour, fact: Fact) -> Pour:
    """The state after this fact."""
    match fact:
        case Tared():
            return replace(pour, tared=fact, stage="pour")
        case Called():
            targets = _put(pour.targets_ug, fact.component, fact.target_ug)
            jug = pour.jug if pour.jug and pour.jug.called == fact.component else None
            step_ug = max(pour.division_ug, fact.division_ug)
            pour = replace(pour, division_ug=step_ug)
            return replace(
                pour, called=fact, begun=False, targets_ug=targets, parting=None, jug=jug
            )
        case Jug():
            return replace(pour, jug=fact)
        case Begun():
            return _begun(pour, fact)
        case Accepted():
            return _accepted(pour, fact)
        case Lost():
            return _lost(pour, fact)
        case Gained():
            strayed_ug = _stray(pour, fact.gross_ug - fact.from_ug)
            return replace(pour, astray_ug=_gained(pour, fact), strayed_ug=strayed_ug)
        case Parting():  # it will be weighed once more
            return replace(pour, parting=fact, switches=pour.switches + 1, late_ug=0)
        case Parted():
            parting = pour.parting and replace(pour.parting, gross_ug=fact.gross_ug)
            left = sum(fact.amounts_ug) / (sum(pour.amounts_ug) or 1)
            added_ug = round(pour.added_ug * left)
            amounts_ug = tuple(fact.amounts_ug)
            before = zip(pour.out_ug or (0,) * len(amounts_ug), pour.amounts_ug, strict=True)
            out_ug = tuple(
                out + had - has for (out, had), has in zip(before, amounts_ug, strict=True)
            )
            pour = replace(pour, parting=parting, amounts_ug=amounts_ug, was_parted=True)
            return replace(pour, added_ug=added_ug, out_ug=out_ug)
        case Held(reason="by-hand"):
            return replace(pour, held_by_hand=True)
        case Held():
            trouble = _troubled(pour.trouble, fact)
            return replace(pour, trouble=trouble, held_ms=trouble.at_ms)
        case Resumed(reason="by-hand"):
            return replace(pour, held_by_hand=False)
        case Resumed():
            return replace(pour, trouble=None, shift_ug=pour.shift_ug + fact.shift_ug)
        case Doubted():
            if pour.unproven_because:
                return replace(pour, also_doubted=(*pour.also_doubted, fact.why))
            return replace(pour, unproven_because=fact.why)
        case Waited(why=why) if why == RESTLESS:
            return replace(pour, restless_in=fact.component)
        case Waited():
            return replace(pour, paused_ms=fact.at_ms - fact.for_ms)
        case Kept():
            return replace(pour, kept=True)
        case Capped():
            return replace(pour, heat_most_ug=fact.most_ug)
        case Stirring():
            return replace(
                pour,
                stage="stir",
                called=None,
                parting=None,
                stir_from_ms=fact.at_ms,
                stir_ms=fact.stir_ms,
            )
        case Live():
            return replace(pour, stage="split" if pour.splits else "live", result=fact)
        case Weighing():
            on = fact.at_ms if fact.component is not None else pour.jug_ms
            return replace(pour, weighing=fact.component, jug_ms=on)
        case JugWeight():
            weights = (*pour.jug_weights, fact)
            if fact.weights == "typed":
                return replace(pour, jug_weights=weights)
            return replace(pour, jug_weights=weights, weighing=None, jug_ms=fact.at_ms)
        case Splitting():
            return replace(pour, splits=True)
        case Shared():
            return replace(pour, shares=(*pour.shares, fact))
        case Filled():
            return replace(pour, filled=(*pour.filled, fact))
        case Moved():
            return replace(pour, moved=True)
        case Divided():
            return replace(pour, stage="live")
        case Ended():
            return replace(pour, stage="ended", result=fact, called=None)
        case _:  # opened (see begin), noted and learned change nothing here
            return pour


def fold(facts: Iterable[Fact]) -> Pour | None:
    """The state that a whole batch's facts lead to; ``None`` if it was never opened."""
    pour: Pour | None = None
    for fact in facts:
        if isinstance(fact, Opened):
            pour = begin(fact)
        elif pour is not None:
            pour = evolve(pour, fact)
    return pour


def _troubled(before: Trouble | None, fact: Held) -> Trouble:
    first = before or Trouble(fact.reason, fact.gross_ug or 0, fact.at_ms)
    return replace(
        first,
        reason=fact.reason,
        pouring=first.pouring if first.missed else fact.pouring,
        missed=first.missed or fact.reason not in HEARD,
        restarted=first.restarted or fact.reason == RESTARTED,
        lifted=first.lifted or fact.reason == "lifted",
    )


def _begun(pour: Pour, fact: Begun) -> Pour:
    role = pour.terms.recipe.components[fact.component].role
    contact = pour.contact_ms
    if role == "hardener" and contact is None:
        contact = fact.at_ms - fact.unseen_ms
    pour = replace(pour, begun=True, begun_ms=fact.at_ms, contact_ms=contact)
    if not fact.astray_ug or pour.last_accepted is None:
        return pour
    astray_ug = _astray(pour, fact.component, pour.last_accepted, fact.astray_ug)
    strayed_ug = _stray(pour, fact.astray_ug, fact.component, pour.last_accepted)
    return replace(pour, astray_ug=astray_ug, strayed_ug=strayed_ug)


def _accepted(pour: Pour, fact: Accepted) -> Pour:
    changed = pour.last_accepted not in (None, fact.component)
    called = pour.called
    late = called is not None and called.component != fact.component
    more_ug = fact.net_ug - called.before_ug if called and called.addition and not late else 0
    return replace(
        pour,
        division_ug=max(pour.division_ug, fact.division_ug),
        amounts_ug=_put(pour.amounts_ug, fact.component, fact.net_ug),
        poured=_put(pour.poured, fact.component, True),
        last_accepted=fact.component,
        switches=pour.switches + changed,
        runs=_run(pour, fact.component),
        late_ug=pour.late_ug + fact.net_ug - pour.amounts_ug[fact.component] if late else 0,
        astray_ug=_astray(pour, fact.component, called.component, fact.astray_ug)
        if called
        else pour.astray_ug,
        strayed_ug=_stray(pour, fact.astray_ug, fact.component, called.component)
        if called
        else pour.strayed_ug,
        astray_ms=_since_ms(pour, fact),
        added_ug=pour.added_ug + more_ug,
    )


def _run(pour: Pour, component: int) -> tuple[int, ...]:
    """How often each was poured, once this one is settled."""
    runs = pour.runs or (0,) * len(pour.amounts_ug)
    return _put(runs, component, runs[component] + (pour.last_accepted != component))


def _since_ms(pour: Pour, fact: Accepted) -> int | None:
    """Since when hardener may be in: what is astray came after it was called for, and where the
    weight could not be followed meanwhile, since then."""
    if pour.astray_ms is not None or not fact.astray_ug or pour.called is None:
        return pour.astray_ms
    return max(pour.called.at_ms, min(pour.held_ms, fact.at_ms))


def _astray(pour: Pour, to: int, may_be: int, astray_ug: int) -> tuple[int, int]:
    """With so much that was booked to one component and may be of another. Between two of one
    kind nothing goes astray that the ratio would feel."""
    to_resin, to_hardener = pour.astray_ug
    booked, other = (pour.terms.recipe.components[i].role for i in (to, may_be))
    if booked == other:
        return pour.astray_ug
    # As if it were of the two that the ratio feels: of an additive it feels less.
    if booked == "hardener" or other == "resin":
        return to_resin, to_hardener + astray_ug
    return to_resin + astray_ug, to_hardener


def _stray(pour: Pour, astray_ug: int, *either: int) -> tuple[int, ...]:
    """With so much that may be of either of two components, or, where none is named, of any."""
    if not astray_ug or (len(either) == 2 and either[0] == either[1]):
        return pour.strayed_ug
    return tuple(
        ug + astray_ug * (not either or index in either) for index, ug in enumerate(pour.strayed_ug)
    )


def _lost(pour: Pour, fact: Lost) -> Pour:
    """It is taken from the component that is being poured, or was the last; once there is
    hardener in the cup, it may as well have been of the other kind."""
    called, loss_ug = pour.called, fact.from_ug - fact.gross_ug
    assert called is not None
    last = pour.last_accepted or 0
    of = called.component if pour.begun else last
    amounts = pour.amounts_ug
    if not pour.begun:  # else the weight tells it, from the same base
        amounts = _put(amounts, of, max(0, amounts[of] - loss_ug))
    to_resin, to_hardener = pour.astray_ug
    role = pour.terms.recipe.components[of].role
    if pour.contact_ms is not None and role != "hardener":
        to_hardener += loss_ug
    if role == "additive" or (pour.contact_ms is not None and role == "hardener"):
        to_resin += loss_ug
    return replace(
        pour,
        amounts_ug=amounts,
        astray_ug=(to_resin, to_hardener),
        strayed_ug=_stray(pour, loss_ug) if any(pour.poured[1:]) else pour.strayed_ug,
        lost_ms=fact.at_ms,
        lost_to_ug=fact.gross_ug,
    )


def _gained(pour: Pour, fact: Gained) -> tuple[int, int]:
    """What is booked to the component that is being poured may be of any other."""
    assert pour.called is not None
    to_resin, to_hardener = pour.astray_ug
    if pour.contact_ms is None:
        return pour.astray_ug
    gain_ug = fact.gross_ug - fact.from_ug
    role = pour.terms.recipe.components[pour.called.component].role
    if role != "resin":
        to_hardener += gain_ug
    if role != "hardener":
        to_resin += gain_ug
    return to_resin, to_hardener


def _put(values: tuple[Any, ...], index: int, value: object) -> tuple[Any, ...]:
    return (*values[:index], value, *values[index + 1 :])
