"""Batches that are neither live nor ended, as the record has them.

Each was being made when its program was cut off. Only reads; what becomes of them is
:mod:`mixer.app.bench.carry_on`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from mixer.app.life.ages import Rebased, is_time, span
from mixer.app.request import Request
from mixer.app.resolve import Order
from mixer.pour.afresh import Shown, give_up, level
from mixer.pour.facts import Fact, Opened
from mixer.pour.plain import from_plain
from mixer.pour.recipe import Recipe
from mixer.pour.state import Pour, fold
from mixer.record.envelope import Entry, RecordError
from mixer.record.reader import Reader
from mixer.record.trace import Sample
from mixer.record.views import Moment, after

#: Common practice, no source: nobody pours on into yesterday's cup.
FRESH_MS = 8 * 3600 * 1000
_OF_THE_WORK = ("layup", "plies")
_BESIDE = (
    *("air_c", "resin_c", "surface_c", "rh_pct", "resin_lot", "hardener_lot", "operator"),
    *_OF_THE_WORK,
)
#: How a person says what the record keeps under these names.
_SPOKEN = {
    "air_c": "air {:g} degC",
    "resin_c": "resin {:g} degC",
    "surface_c": "coldest surface {:g} degC",
    "rh_pct": "humidity {:g} %",
    "resin_lot": "resin lot {}",
    "hardener_lot": "hardener lot {}",
    "operator": "operator {}",
}
_LAST = 64  # readings that the last weight is taken from


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """A batch that was cut off, on the present age clock. ``shown`` is the last weight of
    its trace, ``followed`` the same where it is of this boot; ``since_ms`` how long ago its
    last fact was written; ``set_back``: UTC is behind what its facts say; ``at_least_until_ms``:
    what was until then may be older than it seems by that; ``altered``: its facts are not as
    they were stored."""

    batch: int
    facts: tuple[Fact, ...]
    shown: Shown | None
    followed: Shown | None
    since_ms: int
    set_back: bool
    at_least_until_ms: int | None = None
    altered: bool = False

    @property
    def pour(self) -> Pour:
        """Where it stands."""
        pour = fold(self.facts)
        assert pour is not None
        return pour

    @property
    def ago(self) -> str:
        """How long ago it was cut off, in words."""
        until_ms = self.at_least_until_ms
        proven = until_ms is not None and self.facts[-1].at_ms <= until_ms
        return f"{'at least ' if proven else ''}{span(self.since_ms / 1000)} ago"

    @property
    def about(self) -> dict[str, Any]:
        """What its first fact says beside the terms."""
        return next(fact.about for fact in self.facts if isinstance(fact, Opened))

    @property
    def fresh(self) -> bool:
        """Whether its cup may still be poured into."""
        return self.pour.tared is not None and self.since_ms < FRESH_MS

    def is_what(self, order: Order) -> bool:
        """Whether this order asks for the same. How it is stirred and whether hands are free
        may differ; what a scale told of its own capacity does, what is left of the lots, and
        which tags the jugs carry. Of another layup, or other plies, it is another batch."""
        terms, about = self.pour.terms, self.about
        mine = replace(
            order.terms,
            recipe=_tagged_as(terms.recipe, order.terms.recipe),
            scale_most_ug=terms.scale_most_ug,
            stir_ms=terms.stir_ms,
            hands_free=terms.hands_free,
            left_ug=terms.left_ug,
        )
        return (
            terms == mine
            and all(
                _part(about, key) == _part(order.about, key)
                for key in ("resin_system", "bench", "scale")
            )
            and not any(self._said_anew(order, key) and about.get(key) for key in _OF_THE_WORK)
        )

    def said_anew(self, order: Order) -> str:
        """What this order says beside the masses that the batch's first fact does not; its
        facts are not changed, so that this is to be noted. Empty where there is nothing."""
        said = (key for key in _BESIDE if self._said_anew(order, key))
        return "; ".join(_SPOKEN.get(key, f"{key} {{}}").format(order.about[key]) for key in said)

    def _said_anew(self, order: Order, key: str) -> bool:
        said = order.about.get(key)
        return said is not None and said != self.about.get(key)

    def request(self) -> Request | None:
        """What was asked for, in the builder's own words; ``None`` where that is not known."""
        words = self.about.get("asked")
        if not isinstance(words, dict):
            return None
        known = {name: words[name] for name in Request.__slots__ if name in words}
        texts = {name: said for name, said in known.items() if isinstance(said, str)}
        if not {"resin", "size", "port"} <= texts.keys():
            return None
        return Request(**texts, hands_free=known.get("hands_free") is True)


def _tagged_as(one: Recipe, other: Recipe) -> Recipe:
    """The other recipe with this one's tags: they decide nothing of what is mixed."""
    tags = [component.tag for component in one.components]
    jugs = zip(other.components, [*tags, *[None] * len(other.components)], strict=False)
    return replace(other, components=tuple(replace(jug, tag=tag) for jug, tag in jugs))


def find(record: Reader, now: Moment) -> tuple[list[LeftOpen], str]:
    """All that are there, the newest last. What this program cannot read is passed over, and
    told in a sentence."""
    found, passed = [], []
    for batch in record.batches(outcome="open"):
        left = None
        with suppress(RecordError):  # one that is damaged must not hide the others
            left = _read(record, batch, list(record.entries(batch)), now)
        if left is not None:
            _, whole = record.as_far_as(batch)
            found.append(replace(left, altered=not whole))
        else:
            passed.append(batch)
    return sorted(found, key=lambda left: left.batch), _passed_over(passed)


def _passed_over(batches: list[int]) -> str:
    if not batches:
        return ""
    if len(batches) == 1:
        which, they = f"Batch {batches[0]} was cut off, and is left as it is", "its facts"
    else:
        which, they = (
            f"{len(batches)} batches were cut off, and are left as they are",
            "their facts",
        )
    return f"{which}: {they} are not as this program writes them."


def _part(about: dict[str, Any], key: str) -> object:
    if key != "scale":
        return about.get(key)
    profile = about.get("profile")
    return profile.get("scale") if isinstance(profile, dict) else None


def _read(record: Reader, batch: int, entries: list[Entry], now: Moment) -> LeftOpen | None:
    if not entries or not all(is_time(entry.utc) for entry in entries):
        return None
    boot, trace = _end_of_trace(record, batch)
    traced = (boot, trace[-1].at_ms) if trace else ("", 0)
    own = [Moment(e.utc, e.at_ms, e.boot) for e in entries]
    since = after(own[-1], (when for _, when in record.newest() if is_time(when.utc)))
    rebased = Rebased(own, now, traced, since)
    shown = level([Shown(rebased.at_ms(boot, s.at_ms), s.mass_ug, s.still) for s in trace])
    try:
        facts = tuple(_facts(entries, rebased))
        if fold(facts) is None:
            return None
        give_up(facts, now.at_ms / 1000, shown)  # so that it can be, when it comes to that
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, AssertionError):
        return None  # of a program that writes otherwise
    followed = shown if boot == now.boot else None
    since_ms, until_ms = rebased.since_last_ms, rebased.at_least_until_ms
    return LeftOpen(batch, facts, shown, followed, since_ms, rebased.set_back, until_ms)


def _facts(entries: list[Entry], rebased: Rebased) -> Iterator[Fact]:
    for entry in entries:
        fact = from_plain(entry.kind, rebased.at_ms(entry.boot, entry.at_ms), entry.data)
        if fact is not None:
            yield fact


def _end_of_trace(record: Reader, batch: int) -> tuple[str, list[Sample]]:
    """The last readings that the scale showed, and in which boot."""
    last: deque[tuple[str, Sample]] = deque(maxlen=_LAST)
    with suppress(RecordError):  # evidence that cannot be read is as good as none after it
        last.extend(record.trace(batch))
    boot = last[-1][0] if last else ""
    return boot, [sample for boot_of, sample in last if boot_of == boot]
