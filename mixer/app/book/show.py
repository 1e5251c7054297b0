"""The record as a person reads it in a terminal, and as scripts do.

Forms only: what is shown was found by :mod:`mixer.app.book.looking`. Times are UTC, as they
stand in the record. Every text is made visible: nothing that was typed into a record
may move the cursor or turn a line round.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from mixer.app.book.looking import Shown
from mixer.app.life.cup_life import minutes
from mixer.app.spoken import visible
from mixer.record import later
from mixer.record.corrections import amount_name, grams, label, told
from mixer.record.cups import Cup
from mixer.record.export import LACKING, Stand, row_of, rows_of
from mixer.record.row import BatchRow
from mixer.record.telling import tell

#: What stands in which part of the form: the CSV's key, what a person calls it, its unit.
_PARTS: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = (
    (
        "Batch",
        (
            ("resin_system", "resin system", ""),
            ("resin_source", "its source", ""),
            ("opened_utc", "begun", ""),
            ("live_utc", "live", ""),
            ("closed_utc", "closed", ""),
            ("entered_utc", "typed in", ""),
            ("cup", "cup", ""),
            ("bench", "bench", ""),
            ("scale", "scale", ""),
            ("program", "program", ""),
        ),
    ),
    (
        "Ratio, hardener per 100 resin by weight",
        (
            ("ratio_target", "target", ""),
            ("ratio_actual", "in the cup", ""),
            ("ratio_deviation_pct", "off by", "%"),
            ("verdict", "verdict", ""),
            ("unproven_because", "because", ""),
            ("weights", "weights from", ""),
            ("jugs", "right jugs", ""),
            ("jug_weights", "left the jugs", ""),
        ),
    ),
    (
        "Masses",
        (
            ("size_g", "asked for", "g"),
            ("cloth_g", "for dry cloth", "g"),
            ("tare_g", "empty cup", "g"),
            ("left_g", "left over", "g"),
        ),
    ),
    (
        "How long it lives, from first contact of hardener, as foretold",
        (
            ("working_min", "to use it", "min"),
            ("working_low_min", "earliest", "min"),
            ("working_high_min", "latest", "min"),
            ("gel_min", "gel", "min"),
            ("peak_c", "hottest", "degC"),
            ("peak_min", "then", "min"),
            ("runaway", "runs away", ""),
            ("thickened_min", "thickened", "min"),
        ),
    ),
    (
        "Work and room",
        (
            ("layup", "layup", ""),
            ("plies", "plies", ""),
            ("operator", "operator", ""),
            ("resin_lot", "resin lot", ""),
            ("hardener_lot", "hardener lot", ""),
            ("air_c", "air", "degC"),
            ("resin_c", "resin", "degC"),
            ("rh_pct", "humidity", "%"),
            ("surface_c", "coldest", "degC"),
            ("dew_point_c", "dew point", "degC"),
            ("dew_margin_c", "margin to it", "degC"),
            ("outcome", "outcome", ""),
            ("closed_how", "closed as", ""),
        ),
    ),
)


def plain(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row for JSON: exact decimals become numbers."""
    return {key: _number(value) for key, value in row.items()}


def as_json(shown: Shown, stand: Stand) -> dict[str, Any]:
    """One batch with all its facts; ``kind`` and ``data`` are None where a fact cannot be
    read."""
    facts = [
        {
            "seq": one.seq,
            "utc": one.entry and one.entry.utc,
            "kind": one.entry and one.entry.kind,
            "data": one.entry and one.entry.data,
            "hash": one.hash.hex(),
        }
        for one in shown.facts
    ]
    return {
        "row": plain(row_of(shown.batch, stand)),
        "cups": [plain(row) for row in rows_of(shown.batch, stand)] if shown.batch.cups else [],
        "facts": facts,
        "weights_in_trace": shown.weights,
    }


def listed(batches: Sequence[BatchRow]) -> Iterator[str]:
    """One line for each batch: number, begin, resin, size, verdict, outcome, layup, marks.

    >>> list(listed([BatchRow(3, {"size_ug": 60_000_000, "layup": "rib"}, verdict="in-band")]))
    ['3  -  -  60 g  in-band  open  rib']
    """
    cells = [_cells(batch, row_of(batch)) for batch in batches]
    widths = [max(map(len, column)) for column in zip(*(c[:-1] for c in cells), strict=True)]
    for row in cells:
        padded = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield "  ".join([*padded, row[-1]]).rstrip()


def form(shown: Shown) -> Iterator[str]:
    """Everything known of one batch, for a reader who has never seen the program."""
    batch = shown.batch
    row = row_of(batch)
    marks = _marks(batch)
    yield visible(f"Batch {row['batch']}: {row['verdict'] or 'no verdict'}, {row['outcome']}")
    if batch.lacking:
        yield LACKING
    if batch.entered_at is not None:
        yield "Mixed elsewhere or typed in later: no scale of the program weighed it."
    for title, fields in _PARTS:
        lines = [
            _field(what, f"{_figure(row[key])} {unit}".strip(), marks.get(key, ""))
            for key, what, unit in fields
            if row.get(key) is not None
        ]
        if title == "Masses":
            for index, mass_ug in sorted(batch.amounts_ug.items()):
                name = amount_name(index, batch.components)
                text = f"{grams(mass_ug)} g"
                lines.append(_field(name.removesuffix("_g"), text, marks.get(name, "")))
        if lines:
            yield from ("", title, *lines)
    yield from _cups(batch)
    if batch.later or (batch.outcome in later.USED and batch.closed_how != "discard"):
        yield from ("", "Its laminate: temperatures, witness cup, findings")
        yield _field(
            "cure clock", f"cupside cure {batch.batch} says before when it may not be used", ""
        )
        for seen in batch.later:
            yield visible(f"  {seen.name:<14} {later.line(seen)}")
    if batch.notes:
        yield from ("", "Notes", *(f"  {visible(note)}" for note in batch.notes))
    if batch.corrections:
        yield from ("", "Corrections (nothing is ever changed: what stood there before is kept)")
        for one in batch.corrections:
            because = f"because: {one.reason or 'no reason was given'}"
            name = label(one, batch.components)
            was, new = told(one, one.stood if one.was is None else one.was), told(one, one.value)
            what = f"note added: {new}" if one.field == "note" else f"{name}: {was} -> {new}"
            yield visible(f"  {_time(one.utc)}  {what}; {because}")
    yield from ("", "Facts, in the order of the record (number, UTC, what)")
    for fact in shown.facts:
        if fact.entry is None:
            yield visible(f"  {fact.seq}  cannot be read: {fact.say}")
        else:
            typed = batch.opened.get("weights") == "typed"
            what = tell(fact.entry, batch.components, typed)
            yield visible(f"  {fact.seq}  {_time(fact.entry.utc)}  {what}")
    yield ""
    unknown = "kept in a way that this program does not know"
    yield f"Weights in its trace: {unknown if shown.weights is None else shown.weights}."


def _cups(batch: BatchRow) -> Iterator[str]:
    """The cups of a batch, where there is more to say of them than that there was one."""
    cups = batch.cups
    if len(cups) < 2 and not any(cup.fills or cup.moved_utc or cup.layup for cup in cups):
        return
    yield from ("", "Cups (all of this batch: its ratio, its lots, its first contact)")
    for cup in cups:
        told = [*_of_cup(cup, split=len(cups) > 1), *_lives(batch.shares_foretold.get(cup.number))]
        yield visible(f"  cup {cup.number}: {', '.join(told)}")


def _lives(told: Mapping[str, Any] | None) -> Iterator[str]:
    """How long it was to live, where it had a clock of its own."""
    ends = [(told or {}).get(name) for name in ("low_s", "high_s")]
    low_s, high_s = (s if isinstance(s, int | float) else None for s in ends)
    if low_s is not None and high_s is not None:
        yield f"to be used within {minutes(low_s, high_s)} of first contact"


def _of_cup(cup: Cup, *, split: bool) -> Iterator[str]:
    if split:
        how = {"rest": "what the shares left", "scale": "weighed", "typed": "typed in"}
        if cup.mass_ug is None:
            yield f"share not weighed, up to {grams(cup.most_ug)} g"
        else:
            yield f"{grams(cup.mass_ug)} g ({how.get(cup.weights or '', 'told')})"
    for fill in cup.fills:
        mass = "not weighed" if fill.mass_ug is None else f"{grams(fill.mass_ug)} g"
        yield f"{fill.filler} {mass}{' (typed in)' if fill.weights == 'typed' else ''}"
    if cup.layup is not None:
        yield f"for {cup.layup}"
    if cup.moved_utc is not None:
        yield f"scraped into a second, clean cup at {_time(cup.moved_utc)}"
    if cup.closed_at is not None:
        left = "" if cup.left_ug is None else f", {grams(cup.left_ug)} g left"
        yield f"closed at {_time(cup.closed_at.utc)} ({cup.closed_how}{left})"
    elif split:
        yield "live"


def _marks(batch: BatchRow) -> dict[str, str]:
    """What stands behind a value that is not the one that was told at first."""
    follows = {name for one in batch.corrections for name in one.follows}
    names = {label(one, batch.components) for one in batch.corrections}
    if "mixed_at" in names:
        names.add("opened_utc")
    return {
        **dict.fromkeys(follows, " (follows from a correction)"),
        **dict.fromkeys(names, " (corrected, see below)"),
    }


def _cells(batch: BatchRow, row: Mapping[str, Any]) -> list[str]:
    size_ug = batch.opened.get("size_ug")
    # Of a batch that was typed in, what was mixed is all that is known.
    size_ug = size_ug if type(size_ug) is int else batch.sum_ug()
    corrected = any(one.field != "note" for one in batch.corrections)
    marks = [f"{len(batch.cups)} cups"] * (len(batch.cups) > 1)
    marks += ["typed"] * (batch.opened.get("weights") == "typed") + ["corrected"] * corrected
    marks += ["facts missing"] * batch.lacking
    when = row["opened_utc"]
    cells = [
        row["batch"],
        when and f"{when[:16].replace('T', ' ')}Z",
        row["resin_system"],
        None if size_ug is None else f"{grams(size_ug)} g",
        row["verdict"],
        row["outcome"],
    ]
    texts = ["-" if cell is None else visible(cell) for cell in cells]
    layup = [] if row["layup"] is None else [visible(row["layup"])]
    return [*texts, "  ".join([*layup, *(f"[{mark}]" for mark in marks)])]


def _field(what: str, value: str, mark: str) -> str:
    return f"  {visible(what):<14}{visible(value)}{mark}"


def _time(utc: str) -> str:
    return utc.replace("T", " ").removesuffix("Z")


def _figure(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def _number(value: Any) -> Any:
    if not isinstance(value, Decimal):
        return value
    return int(value) if value == value.to_integral_value() else float(value)
