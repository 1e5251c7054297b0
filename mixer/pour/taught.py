"""What earlier batches taught of this builder's hand and of these jugs, and what this one adds.

Pure, and volatile: losing it costs a top-up, and nothing here makes a weight right or wrong,
only a cue early or late. The hand (reaction, closing, the stream in the air) is what is left
of the lead of :mod:`mixer.pour.approach` when the display's own delay is taken off; it is the
builder's. The drips are the jug's: of one component of one resin, about as warm. The median
of several lessons counts, and only where they agree, so that neither one clumsy batch nor two
hands in turn teach anything.

What was taught is surer than what this batch alone has shown, for no hand is twice the same.
But a batch that is plainly otherwise (another hand, a jug of which nobody said how cold it
is) is poured by what it shows itself, as if nothing had ever been taught.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from statistics import median

from mixer.pour.approach import (
    DISPLAY_S,
    DRIP_MOST_UG,
    LEAD_RANGE_S,
    Habits,
    Stopped,
    at_first,
    learned,
)

# All of these are common practice, no source.
NEWEST = 12  # lessons that count
LEAST = 4  # so many are needed
SPREAD_MS, SPREAD_UG = 150, 200_000  # lessons that differ by more agree on nothing
LIKE_C = 3.0  # resins so far apart still drip alike, in degC
AGREES_S, AGREES_UG = 0.15, 100_000  # a hand and a jug that differ by so much are the same


@dataclass(frozen=True, slots=True)
class Lesson:
    """What the approach to one component, by its place in the recipe, taught: the hand in
    milliseconds, what dripped in micrograms; ``None`` where it was not measured."""

    component: int
    hand_ms: int | None = None
    drip_ug: int | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """How a batch is made, as far as a lesson depends on it: ``bench`` is ``real`` or
    ``simulated``, ``components`` are the names in the order of the recipe, ``resin_c`` is how
    warm the resin is in degC, where that was said."""

    bench: str
    operator: str
    resin_system: str
    resin_c: float | None
    components: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Taught:
    """To begin with: the hand in seconds, and by component what drips in micrograms; ``None``
    where nothing was taught."""

    hand_s: float | None = None
    drips_ug: tuple[int | None, ...] = ()

    def drip_ug(self, component: int) -> int | None:
        return self.drips_ug[component] if 0 <= component < len(self.drips_ug) else None


@dataclass(frozen=True, slots=True)
class Learning:
    """Of one batch: what was ``taught`` before it, and still holds; how late its display is,
    in seconds, where that is known; and its own lessons, by component."""

    taught: Taught = Taught()
    delay_s: float | None = None
    lessons: tuple[Lesson, ...] = ()


# -- from batch to batch -------------------------------------------------------------------


def heeded(lesson: Lesson, then: Made, now: Made) -> Lesson | None:
    """As much of a lesson of an earlier batch as tells something of this one, at its place in
    this one's recipe (-1 where it tells of the hand alone); ``None`` where it tells nothing.

    The bench must be of the same kind, for the hand the builder the same, for the drips the
    component and its warmth, or neither was said.

    >>> then = Made("real", "AB", "sample-36", 21.0, ("resin", "hardener"))
    >>> now = Made("real", "AB", "sample-36", 9.0, ("resin", "hardener"))
    >>> heeded(Lesson(1, 560, 90_000), then, now)
    Lesson(component=-1, hand_ms=560, drip_ug=None)
    """
    if then.bench != now.bench or not 0 <= lesson.component < len(then.components):
        return None
    name = then.components[lesson.component]
    same = then.resin_system == now.resin_system and name in now.components
    drips = same and _alike(then.resin_c, now.resin_c)
    hand_ms = lesson.hand_ms if then.operator == now.operator else None
    drip_ug = lesson.drip_ug if drips else None
    if hand_ms is None and drip_ug is None:
        return None
    return Lesson(now.components.index(name) if drips else -1, hand_ms, drip_ug)


def medians(lessons: Sequence[Lesson], components: int) -> Taught:
    """What these lessons come to, the newest last, for a recipe of so many components.

    >>> medians([Lesson(0, 540, 80_000), Lesson(0, 600, 90_000)] * 2 + [Lesson(0, 550, 600_000)], 2)
    Taught(hand_s=0.55, drips_ug=(90000, None))
    """
    hand_ms = _middle((one.hand_ms for one in lessons), SPREAD_MS)
    drips_ug = (
        _middle((one.drip_ug for one in lessons if one.component == place), SPREAD_UG)
        for place in range(components)
    )
    within = (None if drip is None else min(DRIP_MOST_UG, max(0, drip)) for drip in drips_ug)
    return Taught(None if hand_ms is None else hand_ms / 1000, tuple(within))


def _alike(then_c: float | None, now_c: float | None) -> bool:
    if then_c is None or now_c is None:
        return then_c is now_c
    return abs(then_c - now_c) <= LIKE_C


def _middle(figures: Iterable[int | None], spread: int) -> int | None:
    """The median of the newest, where they are enough and half of them are near it."""
    newest = [figure for figure in figures if figure is not None][-NEWEST:]
    if len(newest) < LEAST:
        return None
    middle = median(newest)
    near = median(abs(figure - middle) for figure in newest) <= spread
    return round(middle) if near else None


# -- within a batch ------------------------------------------------------------------------


def begins(learning: Learning, delay_s: float | None) -> tuple[Learning, Habits]:
    """At the first call, at a display that is so late: the habits to begin with, which are
    those of :func:`mixer.pour.approach.at_first` where no hand was taught.

    A slow hand is feared at once. One faster than the table's is believed when it was seen,
    for somebody else may pour today.

    >>> begins(Learning(Taught(0.85)), 0.4)[1].lead_s, begins(Learning(Taught(0.5)), 0.4)[1].lead_s
    (1.25, 1.0)
    """
    learning, habits = replace(learning, delay_s=delay_s), at_first(delay_s)
    lead_s = _lead_s(learning)
    if lead_s is not None:
        habits = replace(habits, lead_s=max(lead_s, habits.lead_s))
    return learning, habits


def calls(learning: Learning, habits: Habits, component: int) -> Habits:
    """With which habits this component is called: its own jug's drips, where they are known."""
    drip_ug = learning.taught.drip_ug(component)
    return habits if drip_ug is None else replace(habits, drip_ug=drip_ug)


def learn(
    learning: Learning,
    habits: Habits,
    stopped: Stopped | None,
    component: int,
    net_ug: int,
    dripped: bool = True,
) -> tuple[Learning, Habits]:
    """After what was stopped so was settled, and so much of the component lay there;
    ``dripped``: the jug was given its time. Else it is no lesson for other batches."""
    if stopped is None or stopped.later_ug is None:
        return learning, habits
    lead_s = _lead_s(learning) if stopped.steady and stopped.flow_ug_s > 0 else None
    if lead_s is not None:
        habits = replace(habits, lead_s=lead_s)
    shown = learned(habits, stopped, net_ug)
    hand_ms = None
    if shown.leads > habits.leads and learning.delay_s is not None:
        hand_ms = round((shown.lead_s - learning.delay_s) * 1000)
    if dripped:
        lessons = _noted(learning.lessons, Lesson(component, hand_ms, shown.drip_ug))
        learning = replace(learning, lessons=lessons)
    if learning.taught.drip_ug(component) is None or not _agrees(habits, shown, stopped, net_ug):
        return replace(learning, taught=Taught()), shown
    return learning, replace(habits, leads=shown.leads)


def _lead_s(learning: Learning) -> float | None:
    """The lead of the hand that was taught at this display, within what can be."""
    if learning.taught.hand_s is None:
        return None
    least, most = LEAD_RANGE_S
    delay_s = DISPLAY_S if learning.delay_s is None else learning.delay_s
    return min(most, max(least, learning.taught.hand_s + delay_s))


def _agrees(habits: Habits, shown: Habits, stopped: Stopped, net_ug: int) -> bool:
    """Whether about so much came, or of a stream that was not steady dripped, as these
    habits foretold."""
    flow = stopped.flow_ug_s if stopped.steady else 0.0
    more_ug = float(shown.drip_ug - habits.drip_ug)
    if flow > 0:
        more_ug = net_ug - stopped.net_ug - flow * habits.lead_s - habits.drip_ug
    return abs(more_ug) <= AGREES_S * flow + AGREES_UG


def _noted(lessons: tuple[Lesson, ...], new: Lesson) -> tuple[Lesson, ...]:
    """With this lesson; of a component that was poured more than once the newest counts, and
    one that measured the hand before one that did not."""
    old = next((one for one in lessons if one.component == new.component), None)
    if old is not None and old.hand_ms is not None and new.hand_ms is None:
        return lessons
    others = (one for one in lessons if one is not old)
    return tuple(sorted((*others, new), key=lambda one: one.component))
