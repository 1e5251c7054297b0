"""What a builder tells of a laminate later: its room's temperatures, how hard the witness
cup got, what an inspection found. Each is a fact of the batch, or of every batch of a layup;
but what was wiped off a layup, which is weighed once, of its newest batch alone.

It must never touch what a scale weighed, nor take a time that is still to come.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.book.late_entry import utc_of
from mixer.app.book.looking import batch_number, no_batch
from mixer.app.book.paperwork import fact, writing
from mixer.app.clock import Clock
from mixer.app.life.life_asked import temperature_c
from mixer.app.resolve import Refused, words
from mixer.app.sentence import NotDone, sentence
from mixer.record import later
from mixer.record.cups import Cup
from mixer.record.journal import Journal
from mixer.record.later import FINDINGS, USED, Later
from mixer.record.reader import Reader
from mixer.record.stored import stored
from mixer.record.views import BatchRow, Moment, batch_rows

#: How a witness cup is without an instrument: it sticks, a nail dents it, or it does not.
FELT = ("tacky", "dents", "hard")
#: Scales of hardness: ASTM D2240 type D, and ASTM D2583 (from memory).
SCALES = ("shore-d", "barcol")
_HARDNESS = re.compile(r"(\d{1,3}(?:\.\d)?)\s*(shore-d|barcol)", re.ASCII | re.IGNORECASE)
MOST_WIPED_UG = 10_000_000_000


@dataclass(frozen=True, slots=True)
class Seen:
    """As typed; ``None`` is "not said". ``kind`` is one of :data:`mixer.record.later.KINDS`;
    the batch, or a layup for all of its batches."""

    kind: str
    batch: str | None = None
    layup: str | None = None
    air: str | None = None
    least: str | None = None
    most: str | None = None
    since: str | None = None
    until: str | None = None
    hardness: str | None = None
    what: str | None = None
    text: str | None = None
    at: str | None = None
    mass: str | None = None


def add(record: Path, seen: Seen) -> str:
    """Keep it, and say so in one sentence. :class:`NotDone` where that cannot be."""
    clock = Clock()
    try:
        data = _temperature(seen, clock.utc()) if seen.kind == "temperature" else _told(seen, clock)
        with writing(record) as journal:
            journal.claim()  # so that no other gives the same number
            rows = _used(journal, record, seen)
            rows = rows[-1:] if seen.kind == "wiped" else rows
            _must_be_of_them(rows, data)
            if seen.kind == "wiped":
                must_be_mixed(journal, rows[-1], seen.layup, data["value"], seen.mass or "")
            numbers = {row.batch: _next(row, seen.kind) for row in rows}
            facts = [
                fact(seen.kind, {**data, "number": number}, batch, clock)
                for batch, number in numbers.items()
            ]
            journal.append(facts)
    except (Refused, units.UnitsError) as error:
        raise NotDone(sentence(error)) from None
    shown = later.line(Later(seen.kind, 1, **{k: v for k, v in data.items() if k != "text"}))
    kept = ", ".join(f"batch {batch} has {seen.kind}-{n}" for batch, n in numbers.items())
    return f"It is kept: {kept}, {shown}."


def begun(row: BatchRow) -> Moment | None:
    """When hardener met resin, as far as it is known: the laminate cures from then on.

    Where that fact is lost it is when the batch went live: of a cup too old an age is a
    nuisance, of a laminate it is a hazard. Typed in, a time is of no boot.
    """
    if row.mixed_utc is not None:
        return Moment(row.mixed_utc, 0, "")
    return row.contact or row.live_at or row.opened_at


def of_layup(journal: Reader, layup: str) -> list[BatchRow]:
    """The batches that went into it, by number."""
    entries = (one.entry for one in stored(journal.rows()) if one.entry is not None)
    rows = [row for row in batch_rows(entries) if layup.strip().lower() in layups_of(row)]
    return [row for row in rows if row.outcome in USED]


def layups_of(row: BatchRow) -> list[str]:
    """The layups that it went into, in small letters: as they were said, parted by ``;``, and
    those that cups of it have of their own.

    >>> layups_of(BatchRow(1, {"layup": "Rib 3; rib 4"}))
    ['rib 3', 'rib 4']
    """
    said = [row.about("layup"), *(cup.layup for cup in row.cups)]
    return list(dict.fromkeys(name for one in said for name in _names(one)))


def layups_of_cup(row: BatchRow, cup: Cup) -> list[str]:
    """Those that this one of its cups went into: its own, else those of the batch."""
    return _names(cup.layup or row.about("layup"))


def _names(said: object) -> list[str]:
    names = (name.strip() for name in str(said or "").lower().split(";"))
    return [name for name in names if name]


def new_value(kind: str, text: str) -> Any:
    """What a correction says of one, from what was typed; None for "unknown".

    >>> new_value("temperature", "12 degC to 19 degC"), new_value("witness", "80 Shore-D")
    ([12.0, 19.0], '80 shore-d')
    """
    if text.strip().lower() == "unknown":
        return None
    if kind == "temperature":
        least, to, most = text.partition(" to ")
        low = _degrees(least, "temperature")
        return _ordered(low, _degrees(most, "temperature") if to else low)
    if kind == "wiped":
        return _wiped_ug(text)
    return _hardness(text) if kind == "witness" else _words(text, kind)


def _used(journal: Journal, record: Path, seen: Seen) -> list[BatchRow]:
    if (seen.batch is None) == (seen.layup is None):
        raise NotDone("Give the number of a batch, such as 3, or --layup with its name.")
    if seen.layup is not None:
        rows = of_layup(journal, seen.layup)
        if not rows:
            raise NotDone(
                f"layup: no batch of {units.shown(seen.layup)} is in the record {record}; cupside "
                "record list shows those that are."
            )
        return rows
    batch = batch_number(seen.batch or "")
    entries = [one.entry for one in stored(journal.rows(batch)) if one.entry is not None]
    if not entries:
        raise no_batch(batch, record)
    row = batch_rows(entries)[0]
    if row.outcome not in USED:
        raise NotDone(
            f"Batch {batch} is {row.outcome}: there is no laminate of it; a batch that is live, "
            "closed or typed in has one."
        )
    return [row]


def _must_be_of_them(rows: Sequence[BatchRow], data: dict[str, Any]) -> None:
    mixed_utc = min((moment.utc for moment in map(begun, rows) if moment), default="")
    if data["to_utc"] < mixed_utc:
        raise NotDone(
            f"That was {data['to_utc']}, before batch {rows[0].batch} was mixed ({mixed_utc}); "
            "give a time since then."
        )


def must_be_mixed(
    journal: Reader, row: BatchRow, layup: str | None, wiped_ug: int, text: str
) -> None:
    """No more is wiped off a layup than was mixed for it; where none is named, for all that this
    batch went into. Of a batch whose mass nobody knows there is no such most."""
    layups = [layup] if layup else layups_of(row)
    rows = {one.batch: one for name in layups for one in of_layup(journal, name)}
    masses = [one.sum_ug() for one in (rows | {row.batch: row}).values()]
    mixed_ug = sum(mass_ug or 0 for mass_ug in masses)
    if None not in masses and wiped_ug > mixed_ug:
        raise NotDone(
            f"mass: {units.shown(text)} was read; give from 0 g to the "
            f"{mixed_ug // 100_000 / 10} g that were mixed for it, such as 12g."
        )


def _next(row: BatchRow, kind: str) -> int:
    return 1 + max((one.number for one in row.later if one.kind == kind), default=0)


def _temperature(seen: Seen, now_utc: str) -> dict[str, Any]:
    span = (seen.least, seen.most, seen.since)
    if seen.air is not None and not any((*span, seen.until)):
        at_utc, temp_c = _moment(seen.at, now_utc, "at"), _degrees(seen.air, "air")
        return _data([temp_c, temp_c], at_utc, at_utc, seen.air)
    if seen.air is not None or seen.at is not None or None in span:
        raise NotDone(
            "Give --air with the temperature and --at with its time (else it is now), or "
            "--least, --most and --from, with --to where it is not up to now."
        )
    value = _ordered(_degrees(seen.least or "", "least"), _degrees(seen.most or "", "most"))
    from_utc = _moment(seen.since, now_utc, "from")
    to_utc = _moment(seen.until, now_utc, "to")
    if from_utc >= to_utc:
        raise NotDone(
            f"from: {units.shown(seen.since)} is not before the end ({to_utc}); give the time at "
            "which the thermometer was set."
        )
    return _data(value, from_utc, to_utc, f"{seen.least} to {seen.most}")


def _told(seen: Seen, clock: Clock) -> dict[str, Any]:
    at_utc = _moment(seen.at, clock.utc(), "at")
    if seen.kind == "witness":
        text = seen.hardness or ""
        return _data(_hardness(text), at_utc, at_utc, text)
    if seen.kind == "wiped":
        text = seen.mass or ""
        return {**_data(_wiped_ug(text), at_utc, at_utc, text), "what": (seen.layup or "").strip()}
    if seen.what not in FINDINGS:
        raise NotDone(
            f"what: {units.shown(seen.what)} was read; give one of {', '.join(FINDINGS)}."
        )
    text = _words(seen.text or "", "text")
    return {**_data(text, at_utc, at_utc, text), "what": seen.what}


def _data(value: Any, from_utc: str, to_utc: str, text: str) -> dict[str, Any]:
    return {"value": value, "from_utc": from_utc, "to_utc": to_utc, "text": text.strip()}


def _moment(text: str | None, now_utc: str, what: str) -> str:
    return now_utc if text is None else utc_of(text, now_utc, what)


def _degrees(text: str, what: str) -> float:
    temp_c = temperature_c(text, what)
    assert temp_c is not None  # a text was given
    return temp_c


def _ordered(least: float, most: float) -> list[float]:
    if least > most:
        raise NotDone(
            f"least: {least:g} degC is more than the {most:g} degC of the most; give the lower "
            "figure first."
        )
    return [least, most]


def _hardness(text: str) -> str:
    word = text.strip().lower()
    figure = _HARDNESS.fullmatch(word)
    if word in FELT:
        return word
    if figure is None or float(figure[1]) > 100:
        raise NotDone(
            f"hardness: {units.shown(text)} was read; give {', '.join(FELT)}, or a figure up to "
            f"100 with its scale ({' or '.join(SCALES)}), such as '80 shore-d'."
        )
    return f"{float(figure[1]):g} {figure[2]}"


def _wiped_ug(text: str) -> int:
    with suppress(units.OutOfSpan):
        if (mass_ug := units.mass_ug(text, "mass")) <= MOST_WIPED_UG:
            return mass_ug
    raise NotDone(f"mass: {units.shown(text)} was read; give from 0 g to 10 kg, such as 12g.")


def _words(text: str, what: str) -> str:
    if not text.strip():
        raise NotDone(f"{what}: nothing was given; give it in words.")
    return words(text.strip(), what) or ""
