"""A pour that was cut off and is taken up again: what it weighed last, and how it starts.

Pure. The facts tell what was decided, the trace what the scale showed; between the last
of both and now nobody looked. So the pour starts in trouble at the last weight that the
record knows, as if a stream had run on (but where that weight rested and nothing more was
asked for), and :mod:`mixer.pour.trust` decides the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from mixer.pour import bands, turns, typed
from mixer.pour.decide import decide
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted, Called, Doubted, Fact, Held, Parted, Resumed, Tared
from mixer.pour.inputs import Cut
from mixer.pour.shows import Entry
from mixer.pour.sight import Sight
from mixer.pour.standing import enough
from mixer.pour.state import BY_HAND, RESTARTED, Pour, evolve, fold
from mixer.pour.trust import doubt_of
from mixer.pour.words import HELD

EDGE_MS = 500


@dataclass(frozen=True, slots=True)
class Shown:
    """What the scale displayed at this time of the age clock."""

    at_ms: int
    mass_ug: int
    still: bool


def level(shown: Sequence[Shown]) -> Shown | None:
    """The last weight that is known: the newest at rest, else the lower edge of the last
    half second, so that a bump upwards is not taken for content."""
    if not shown or shown[-1].still:
        return shown[-1] if shown else None
    return min((s for s in shown if shown[-1].at_ms - s.at_ms <= EDGE_MS), key=lambda s: s.mass_ug)


def take_up(facts: Sequence[Fact], at_s: float, shown: Shown | None) -> tuple[Fact, ...]:
    """What becomes true when this pour is taken up at this time.

    The facts are all of its batch, on the present age clock; ``shown`` is the last weight
    of the trace, if there is one. A stir needs no scale, and just runs on.
    """
    draft = Draft(_folded(facts), Sight(), at_s)
    if draft.pour.terms.typed_division_ug is not None:  # the builder will say what it shows
        typed.mend(draft, facts[-1])
    elif draft.pour.stage == "pour":
        _mend(draft, facts[-1])
        gross = last_gross_ug(facts, shown)
        pouring = not _stood_enough(draft.pour, gross, shown)
        draft.add(Held(draft.at_ms, RESTARTED, gross, HELD[RESTARTED], pouring=pouring))
    return tuple(draft.facts)


def _stood_enough(pour: Pour, gross_ug: int | None, shown: Shown | None) -> bool:
    """Whether the weight rested at the last, and there was as much as was asked for or more."""
    called = pour.called
    if called is None or gross_ug is None or shown is None or not shown.still:
        return False
    if shown.at_ms < max(called.at_ms, pour.begun_ms):
        return False
    net_ug = pour.net_ug(gross_ug)
    return net_ug > called.high_ug or enough(pour, net_ug)


def first_sight(facts: Sequence[Fact], followed: Shown | None) -> Sight:
    """What is seen before the first reading: when the cup was last followed. ``followed`` is
    the last weight of the trace where it is of this boot; a pour that was in trouble then
    was not being followed."""
    troubled = _folded(facts).trouble is not None
    return Sight(followed_s=None if troubled or followed is None else followed.at_ms / 1000)


def give_up(facts: Sequence[Fact], at_s: float, shown: Shown | None) -> tuple[Fact, ...]:
    """The end of this pour, which is not taken up: ``abandoned``, with what was in its cup."""
    pour, at_ms = _folded(facts), round(at_s * 1000)
    if pour.terms.typed_division_ug is not None:
        return typed.decide(pour, Entry(), Cut(at_s, "abandoned"))[1].facts
    if pour.stage == "pour" and pour.called is not None:
        gross = last_gross_ug(facts, shown)
        pour = evolve(pour, Held(at_ms, RESTARTED, gross, HELD[RESTARTED], pouring=True))
    return decide(pour, Sight(), Cut(at_s, "abandoned")).facts


def last_gross_ug(facts: Sequence[Fact], shown: Shown | None) -> int | None:
    """The last weight that the record knows, as the pour counts it; the displayed one only
    where no fact is newer than it."""
    gross: int | None = None
    at_ms = shift = 0
    troubled = False
    for fact in facts:
        match fact:
            case (
                Tared(tare_ug=known)
                | Called(base_ug=known)
                | Accepted(gross_ug=known)
                | Parted(gross_ug=known)
            ):
                gross, at_ms = known, fact.at_ms
            case Held(gross_ug=int(held)) if fact.reason != BY_HAND and not troubled:
                gross, at_ms, troubled = held, fact.at_ms, True
            case Resumed() if fact.reason != BY_HAND:
                troubled, shift = False, shift + fact.shift_ug
                at_ms = fact.at_ms if fact.shift_ug else at_ms  # displayed otherwise from here
    if shown is not None and (gross is None or shown.at_ms >= at_ms):
        return shown.mass_ug + shift
    return gross


def _folded(facts: Sequence[Fact]) -> Pour:
    pour = fold(facts)
    assert pour is not None
    return pour


def _mend(draft: Draft, last: Fact) -> None:
    """Complete a decision of which only the first facts are there. The journal keeps all
    of one decision or none; a record that something else has cut need not be so."""
    called = draft.pour.called
    if isinstance(last, Resumed) and (why := doubt_of(last)):
        draft.add(Doubted(draft.at_ms, why))
    if called is None and draft.pour.tared is not None:
        call = bands.first_call(draft.pour.cup)
        turns.call_for(draft, call, draft.pour.tared.tare_ug, late_drips=False)
    elif isinstance(last, Accepted) and called and called.component != last.component:
        draft.add(replace(called, at_ms=draft.at_ms, base_ug=last.gross_ug))
