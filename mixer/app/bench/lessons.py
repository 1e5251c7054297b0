"""What the record has taught of this builder and these jugs, looked up when a batch begins.

Only reads, and only the newest batches, one by one by their number: it takes as long in a
record of ten thousand batches as in one of thirty. What cannot be read teaches nothing; it
must never keep a batch from being poured.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from mixer.pour.recipe import Recipe
from mixer.pour.taught import NEWEST, Lesson, Made, Taught, heeded, medians
from mixer.record.envelope import Entry, RecordError
from mixer.record.reader import Reader
from mixer.record.views import batch_rows

BATCHES = 2 * NEWEST  # looked at: some are of another resin or builder (our choice)


def taught_before(record: Reader, batch: int, about: Mapping[str, Any], recipe: Recipe) -> Taught:
    """What the batches before this one taught; ``about`` is what its own first fact says."""
    now = made(about, [component.name for component in recipe.components])
    found: list[Lesson] = []
    for number in range(max(1, batch - BATCHES), batch):
        with suppress(RecordError):
            found += _of(list(record.entries(number)), now)
    return medians(found, len(now.components))


def made(about: Mapping[str, Any], components: list[str]) -> Made:
    """How a batch was made, by what is known of it."""
    resin_c = about.get("resin_c")
    return Made(
        bench=_text(about.get("bench")),
        operator=_text(about.get("operator")),
        resin_system=_text(about.get("resin_system")),
        resin_c=float(resin_c) if isinstance(resin_c, int | float) else None,
        components=tuple(components),
    )


def _of(entries: list[Entry], now: Made) -> list[Lesson]:
    told = [entry.data for entry in entries if entry.kind == "learned"]
    if not told:
        return []
    row = batch_rows(entries)[0]
    then = made({**row.opened, **row.told}, [str(c.get("name")) for c in row.components])
    lessons = (heeded(_lesson(data), then, now) for data in told)
    return [lesson for lesson in lessons if lesson is not None]


def _lesson(data: Mapping[str, Any]) -> Lesson:
    """Of another program's, anything may stand there."""
    component, hand_ms, drip_ug = (data.get(k) for k in ("component", "hand_ms", "drip_ug"))
    return Lesson(
        component if type(component) is int else -1,
        hand_ms if type(hand_ms) is int else None,
        drip_ug if type(drip_ug) is int else None,
    )


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
