"""How fast this builder uses epoxy up, as the record has it.

A cup goes live with its last stir, and is closed when it is empty or what is left was
weighed: what lies between is the pace, and each method of wetting out has its own. Only reads,
the newest cups by their number. What cannot be read teaches nothing; it must never keep a layup
from being sized.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from statistics import median

from mixer.app.book.laminate import layups_of
from mixer.app.book.looking import reading
from mixer.app.files.layup_file import USUAL_METHOD
from mixer.plan.batches import UG_PER_G
from mixer.record.envelope import RecordError
from mixer.record.row import BatchRow
from mixer.record.views import batch_rows

#: Our choice: as with what the cues learn (:mod:`mixer.pour.taught`).
NEWEST, LEAST = 12, 4
#: Our choice: those of another method may lie between, and each takes its time to be read.
LOOKED_AT = 120
#: Of a cup in use. One that was closed at once, or hours later, tells no pace (our choice).
MINUTES = (2.0, 90.0)
#: How far from the usual rate a pace may be and be believed, as a factor (our choice).
FACTOR = 3.0


def learned(
    record: Path, method: str, usual_g_min: float, layup: str | None = None
) -> tuple[float, int] | None:
    """Grams a minute by this method, and of how many cups it is the median; None where too
    little tells. ``layup`` is one that is wetted by it.

    Raises nothing: a record that is not there, or cannot be read, has taught nothing.
    """
    paces: list[float] = []
    with suppress(ValueError, RecordError), reading(record) as reader:
        for number in reversed(reader.batches("closed")[-LOOKED_AT:]):
            with suppress(RecordError):
                rows = [r for r in batch_rows(reader.entries(number)) if _is_by(r, method, layup)]
                paces += _paces(rows, usual_g_min)
            if len(paces) >= NEWEST:
                break
    newest = paces[:NEWEST]
    return (median(newest), len(newest)) if len(newest) >= LEAST else None


def _is_by(row: BatchRow, method: str, layup: str | None) -> bool:
    """Its kits say by what it was wetted out. Where it had none its layup may tell; what else
    nobody knows of counts for the usual method."""
    of_kits = {kit["method"] for kit in row.kits if isinstance(kit.get("method"), str)}
    if of_kits:
        return {said.lower() for said in of_kits} == {method.lower()}
    if method == USUAL_METHOD:
        return True
    return layup is not None and layups_of(row) == [layup.strip().lower()]


def _paces(rows: list[BatchRow], usual_g_min: float) -> list[float]:
    found = (_pace(row) for row in rows)
    least, most = usual_g_min / FACTOR, usual_g_min * FACTOR
    return [pace for pace in found if pace is not None and least <= pace <= most]


def _pace(row: BatchRow) -> float | None:
    whole_ug, live, closed = row.sum_ug(), row.live_at, row.closed_at
    if row.opened.get("bench") != "real" or not whole_ug or live is None or closed is None:
        return None
    if len(row.cups) > 1 or any(cup.fills for cup in row.cups):
        return None  # each went its own way, and what is left is partly filler
    if row.closed_how not in ("used-up", "left") or live.boot != closed.boot:
        return None
    minutes = (closed.at_ms - live.at_ms) / 60_000
    used_ug = whole_ug - (row.left_ug or 0)
    if not MINUTES[0] <= minutes <= MINUTES[1] or used_ug <= 0:
        return None
    return used_ug / UG_PER_G / minutes
