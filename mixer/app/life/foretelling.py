"""What is asked of how long a cup lives, and the fact that answers it. Pure.

The question is made of what the record says of the batch (its profile as it was then, its
cup, its mass, the temperatures since), and the answer keeps what it was asked with, so that
nothing is foretold twice of the same, and the record stands alone. Must never give a figure
where the model was not checked.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from mixer import units
from mixer.app.files.profiles import kept_resin
from mixer.app.life.ages import age_ms, is_time, since_ms
from mixer.app.life.cup_life import AWAITED, off_told
from mixer.app.life.life import label_of
from mixer.app.life.thickenings import is_drawn
from mixer.record.views import BatchRow, Moment
from mixer.science.heat import Air
from mixer.science.label import Left
from mixer.science.plain_rule import Caution, caution, plain
from mixer.science.pot_life import TEMP_C, Contradiction, Label, estimate, unchecked
from mixer.science.shapes import Shape

#: Within so long a temperature that is said anew puts the one before right (our choice).
ANEW_S = 120.0
NO_POT_LIFE = "its resin's profile has no pot life"


@dataclass(frozen=True, slots=True)
class Question:
    """``air`` is the room in degC, each from its second after first contact on; ``start_c``
    the epoxy's own temperature as it was mixed. ``assumed``: nobody said how warm the
    room is, which is taken for as warm as the label's, or as the resin, whichever is warmer.
    ``shared``: what of it was left later, for a share, each from its second on: so many
    micrograms, in a cup of so many ml, None where nobody said in which.
    ``said`` is how much had been said of the batch (:func:`said_of`). ``off``, ``richer`` and
    ``bare`` as in :class:`BatchRow`: where it is off no figure may be given, and it is warned no
    later than a right one."""

    label: Label
    mass_ug: int
    air: tuple[tuple[float, float], ...]
    start_c: float
    cup_ml: float | None
    assumed: bool
    said: int = 0
    richer: float = 1.0
    bare: float = 1.0
    shared: tuple[tuple[float, int, float | None], ...] = ()
    off: tuple[tuple[str, float], ...] = ()

    @property
    def why_not(self) -> str | None:
        """Why no figure may be given; None where one may be. Raises :class:`Contradiction` for a
        label that is none."""
        if self.off:
            told = off_told(dict(self.off))
            return f"it was weighed with {told}, and its label's time is for its ratio"
        cups = [(self.mass_ug, self.cup_ml), *((ug, cup_ml) for _, ug, cup_ml in self.shared)]
        held = [(mass_ug / 1e6, Shape(cup_ml=cup_ml)) for mass_ug, cup_ml in cups]
        now_c = self.air[-1][1]
        # What the room had before counts in the model, and need not be what was checked: it may
        # be over, or a slip that was put right.
        near_c = min(self.air[0][1], now_c, key=lambda air_c: abs(air_c - self.start_c))
        whole_g, cup = held[0]
        first = unchecked(self.label, whole_g, _checked(near_c), self.start_c, cup)
        now = (unchecked(self.label, mass_g, now_c, now_c, its) for mass_g, its in held)
        return next((why for why in (first, *now) if why is not None), None)

    def asked(self) -> dict[str, Any]:
        """As the answer keeps it."""
        shared = {"shared": [list(one) for one in self.shared]} if self.shared else {}
        # An older program looks for the number, and knew but that of all hardener.
        off = {"off_ratio": self.off[0][1], "off": dict(self.off)} if self.off else {}
        off |= {"richer": self.richer} if self.richer > 1 else {}
        return (
            shared
            | off
            | {
                "mass_ug": self.mass_ug,
                "air": [list(one) for one in self.air],
                "start_c": self.start_c,
                "cup_ml": self.cup_ml,
                "assumed": self.assumed,
                "label": [[p.mass_g, p.temp_c, p.minutes] for p in self.label.points],
                "ends": self.label.ends,
            }
        )

    def is_answered_by(self, data: Mapping[str, Any]) -> bool:
        """Whether this is the data of a fact that answers it; one that told no figure says by
        when the cup is to be warned of."""
        warns = data.get("why") is None or "rule_low_s" in data
        warns &= data.get("off", {}) == dict(self.off)
        return warns and all(
            name in data and data[name] == said for name, said in self.asked().items()
        )


def question(
    row: BatchRow,
    contact: Moment | None,
    mass_ug: int | None = None,
    later: Sequence[Moment] = (),
) -> Question | str:
    """What is to be asked of all that is in this batch, or of so much of its right ratio; or why
    there is nothing to be asked.

    Without ``contact`` nothing has reacted yet, and what was measured last holds. ``later`` as in
    :class:`mixer.record.views.LiveCup`.
    """
    try:
        label = _label(row.opened)
        cup_ml = _cup_ml(row.opened)
    except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError):
        # Of a program that writes otherwise.
        return "its profile in the record cannot be read"
    if label is None:
        return NO_POT_LIFE
    resin_c = _temperature(row.about("resin_c"))
    air = _air(row, contact, later)
    assumed = not air
    if not air:
        label_c = label.points[0].temp_c
        air = ((0.0, label_c if resin_c is None else max(label_c, resin_c)),)
    start_c = _checked(air[0][1]) if resin_c is None and len(air) > 1 else resin_c
    start_c = air[0][1] if start_c is None else start_c
    if mass_ug is not None:
        return Question(label, mass_ug, air, start_c, cup_ml, assumed, said_of(row), bare=row.bare)
    mass_ug, off = row.sum_ug() or 0, tuple(row.off.items())
    richer = row.richer if off else 1.0
    return Question(label, mass_ug, air, start_c, cup_ml, assumed, said_of(row), richer, off=off)


def of_share(
    whole: Question, row: BatchRow, contact: Moment, cup: int, later: Sequence[Moment] = ()
) -> Question:
    """The same of one cup of a batch that was split: it was as warm as the whole until then."""
    course = next(one.course for one in row.cups if one.number == cup)
    shared: list[tuple[float, int, float | None]] = []
    for when, most_ug, own in course:
        # To the next second, and in order whatever a clock did: longer with the others is warmer.
        since_s = float(math.ceil(max(0.0, aged_s(contact, later, when))))
        since_s = max(since_s, shared[-1][0] if shared else 0.0)
        shared.append((since_s, most_ug, whole.cup_ml if own else None))
    return replace(whole, shared=tuple(shared), said=said_of(row, share=True))


def said_of(row: BatchRow, *, share: bool = False) -> int:
    """How often something was said of a batch, or of its cups too, that may change what is to be
    asked."""
    said = len(row.said_air) + len(row.corrections) + len(row.later)
    return said + len(row.cups_told.shares) if share else said


def is_as_foretold(
    row: BatchRow, mass_ug: int, seen: Sequence[float], share: int | None = None
) -> bool:
    """Whether nothing was said since that could make it another question, of the batch or of one
    ``share``, or draw its answer elsewhere (``seen``, of its resin): then it need not be put, which
    takes a library of units."""
    told = row.foretold if share is None else row.shares_foretold.get(share, {})
    is_said = told.get("said") == said_of(row, share=share is not None)
    is_said &= told.get("off", {}) == row.off
    return is_said and told.get("mass_ug") == mass_ug and is_drawn(told, seen)


@functools.lru_cache(maxsize=64)
def answer(asked: Question) -> dict[str, Any]:
    """The data of the fact, but for what was seen of other cups; times in whole seconds from
    first contact. Takes some tens of milliseconds, the first time ten times as long; loads
    scipy. Not to be changed: it is handed out again.
    """
    life, cup = None, _cup(asked)
    try:
        why = asked.why_not
        life = estimate(*cup) if why is None else None
    except (Contradiction, ArithmeticError) as error:
        why = str(error)
    if life is None:
        soonest = caution(*cup, asked.richer).after(_quicker(asked))
        return {**asked.asked(), "said": asked.said, "why": why, **_warned(soonest)}
    if life.range_s is None or life.working_s is None:
        why = "it would not end within a week"
        return {**asked.asked(), "said": asked.said, "why": why, "rule_low_s": None}
    return {
        **asked.asked(),
        "said": asked.said,
        "why": None,
        "model_s": round(life.working_s),
        "working_s": round(life.working_s),
        "low_s": int(life.range_s[0]),
        "high_s": round(life.range_s[1]),
        "gel_s": None if life.gel_s is None else round(life.gel_s),
        "peak_c": round(life.peak_c),
        "peak_s": round(life.peak_s),
        "runaway": life.runaway,
        "warm_s": _whole(life.warm_s),
        "hot_s": _whole(life.hot_s),
    }


def by_rule(asked: Question, why: str) -> dict[str, Any]:
    """In the place of an answer that does not come: by when to warn by the plain rule alone. It
    takes no time, and is no fact: the answer may come still."""
    warmest_c = max(asked.start_c, *(air_c for _, air_c in asked.air))
    mass_g = asked.mass_ug / 1e6 * asked.richer
    soonest = plain(asked.label, mass_g, warmest_c).after(_quicker(asked))
    return {
        **asked.asked(),
        "by_rule": True,
        "why": why if not asked.off else asked.why_not,
        **_warned(soonest),
    }


def until_filled(asked: Question) -> dict[str, Any]:
    """By when to warn of it while additives that follow its hardener are missing; nothing where
    none does. As :func:`answer`, it takes time."""
    if asked.bare == 1:
        return {}
    bare = replace(asked, mass_ug=round(asked.mass_ug * asked.bare))
    return _warned(caution(*_cup(bare), 1 / asked.bare))


def untold_yet(row: BatchRow, contact: Moment, later: Sequence[Moment] = ()) -> dict[str, Any]:
    """The same of all of a batch, while it is thought out."""
    asked = question(row, contact, later=later)
    return {"why": asked} if isinstance(asked, str) else by_rule(asked, AWAITED)


def _cup(asked: Question) -> tuple[Label, float, Air, float, float | None, Left]:
    air = asked.air if len(asked.air) > 1 else asked.air[0][1]
    left = [(since_s, ug / 1e6, cup_ml) for since_s, ug, cup_ml in asked.shared]
    return asked.label, asked.mass_ug / 1e6, air, asked.start_c, asked.cup_ml, left


def _warned(soonest: Caution) -> dict[str, Any]:
    times = {"warm_s": _whole(soonest.warm_s), "hot_s": _whole(soonest.hot_s)}
    return {"rule_low_s": int(soonest.low_s), **times}


def _quicker(asked: Question) -> float:
    """What is left of a right one's times: too much of a component may make it as many times as
    quick (our choice); too little makes it no slower to be warned of."""
    return 1 / (1 + max([0.0, *(by for _, by in asked.off)]))


def _whole(at_s: float | None) -> int | None:
    return None if at_s is None else int(at_s)


def _checked(temp_c: float) -> float:
    """The nearest for which the model was checked."""
    return min(max(temp_c, TEMP_C[0]), TEMP_C[1])


def seconds_after(contact: Moment, when: Moment) -> float:
    """From first contact to then, below zero before it; by the age clock within one boot, else
    by UTC."""
    if contact.boot == when.boot:
        return (when.at_ms - contact.at_ms) / 1000
    if not (is_time(contact.utc) and is_time(when.utc)):
        return 0.0
    passed = datetime.fromisoformat(when.utc) - datetime.fromisoformat(contact.utc)
    return passed.total_seconds()


def aged_s(contact: Moment, later: Sequence[Moment], when: Moment) -> float:
    """The same to a fact of the batch: as old as its cup was by its clock, which by UTC alone may
    be behind, and by the age clock of a system that stands still in sleep. In a boot in which
    none of its facts came ``later`` it was before.

    >>> contact = Moment("2024-05-01T08:00:00.000Z", 30_000, "b1")
    >>> behind = Moment("2024-05-01T07:00:00.000Z", 60_000, "b2")
    >>> kept = Moment("2024-05-01T08:10:00.000Z", 630_000, "b1")
    >>> aged_s(contact, [contact, kept, behind], behind), aged_s(contact, [], behind)
    (660.0, -3600.0)
    """
    if contact.boot == when.boot and contact.at_ms <= when.at_ms and is_time(when.utc):
        return since_ms(contact, when) / 1000
    if contact.boot == when.boot or not later or not is_time(contact.utc):
        return seconds_after(contact, when)
    if when.boot not in [one.boot for one in later]:
        return -math.inf
    between = itertools.takewhile(lambda one: one.boot != when.boot, later)
    when = when if is_time(when.utc) else replace(when, utc=contact.utc)
    return age_ms(contact, between, when).ms / 1000


def put_right(measured: Sequence[tuple[Moment, float]]) -> list[tuple[Moment, float]]:
    """Without what was said anew within :data:`ANEW_S` of it, which puts it right; what goes on
    being said once a minute is no chain of slips.

    >>> def said(at_s: int, air_c: float) -> tuple[Moment, float]:
    ...     return Moment("2024-05-01T08:00:00.000Z", 1000 * at_s, "b1"), air_c
    >>> [air_c for _, air_c in put_right([said(0, 41.0), said(20, 14.0), said(200, 15.0)])]
    [14.0, 15.0]
    >>> [air_c for _, air_c in put_right([said(60 * i, 20.0 + i) for i in range(5)])]
    [21.0, 23.0, 24.0]
    """
    kept: list[tuple[Moment, float]] = []
    first: Moment | None = None  # of those that the last one puts right
    for when, air_c in measured:
        is_anew = first is not None and first.boot == when.boot
        if is_anew and first and 0 <= when.at_ms - first.at_ms < 1000 * ANEW_S:
            kept.pop()
        else:
            first = when
        kept.append((when, air_c))
    return kept


def _air(
    row: BatchRow, contact: Moment | None, later: Sequence[Moment]
) -> tuple[tuple[float, float], ...]:
    """Between two times that it was measured the warmer one holds; before the first, that."""
    base = _temperature(row.about("air_c"))
    said = [] if base is None else [(float("-inf"), base)]
    typed = [
        (Moment(one.from_utc, 0, ""), one.degrees[1])  # of several the warmest
        for one in row.later
        if one.degrees is not None
    ]
    newest_s = -math.inf
    for when, air_c in put_right(row.measured):  # whatever a clock did, in their order
        newest_s = max(newest_s, -math.inf if contact is None else aged_s(contact, later, when))
        said.append((newest_s, air_c))
    said += [
        (float("-inf") if contact is None else seconds_after(contact, when), air_c)
        for when, air_c in typed
    ]
    said.sort(key=lambda one: one[0])
    before = [air_c for since_s, air_c in said if since_s <= 0]
    held: dict[float, float] = {0.0: before[-1]} if before else {}
    for since_s, air_c in said:
        if since_s > 0:
            held[float(round(since_s)) if held else 0.0] = air_c  # the last of each second
    air: list[tuple[float, float]] = []
    for (second, air_c), until_c in zip(held.items(), [*held.values(), None][1:], strict=True):
        warmer = max(air_c, air_c if until_c is None else until_c)
        if not air or air[-1][1] != warmer:
            air.append((second, warmer))
    return tuple(air)


def _temperature(value: object) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    return None


def _label(opened: Mapping[str, Any]) -> Label | None:
    resin = kept_resin(opened["profile"]["resin"], "its profile in the record")
    return None if resin.pot_life is None else label_of(resin)


def _cup_ml(opened: Mapping[str, Any]) -> float | None:
    raw = opened["profile"]["cup"]
    return None if raw is None else units.volume_ml(raw["volume"])
