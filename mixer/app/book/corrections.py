"""A batch is corrected: a new fact beside the old one, which stays as it is.

What a person typed, or can find out later, may be corrected, with a reason. What a
scale weighed may not: that is evidence. A doubt about it is told by a note, which is
added to the batch and marked with the day and the reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.bench import damp
from mixer.app.book import laminate, late_correction
from mixer.app.book.late_correction import changed
from mixer.app.book.looking import no_batch
from mixer.app.book.paperwork import fact, writing
from mixer.app.clock import Clock
from mixer.app.files.profiles import ProfileError
from mixer.app.life.life_asked import temperature_c
from mixer.app.resolve import Refused, parsed, plies, words
from mixer.app.sentence import NotDone, sentence
from mixer.pour.cups import SLACK
from mixer.record import cups
from mixer.record.corrections import Correction, amount_name, grams, label, told
from mixer.record.envelope import Entry, RecordError
from mixer.record.later import KINDS
from mixer.record.reader import Reader
from mixer.record.stored import Stored, stored
from mixer.record.views import BatchRow, batch_rows

_TEXTS = ("operator", "layup", "plies", "resin_lot", "hardener_lot")
_ROOM = ("air_c", "resin_c", "surface_c", "rh_pct")
#: The words of the commands for what the CSV calls otherwise.
_ALSO = {
    "air": "air_c",
    "resin-temp": "resin_c",
    "surface": "surface_c",
    "rh": "rh_pct",
    "left": "left_g",
    "resin": "resin_system",
    "mixed-at": "mixed_at",
    "resin-mass": "resin_g",
    "hardener-mass": "hardener_g",
}
UNKNOWN = "unknown"
#: What is said of the air is kept for every batch that lives or cures then, which are as near as
#: this by their numbers, and at once (our choice).
NEAR, AT_ONCE_MS = 48, 1000


def correct(record: Path, batch: int, field: str, value: str, reason: str) -> str:
    """Correct one field, and say so in one sentence.

    ``field`` is the name of the CSV's column or of the option by which it was said, ``value``
    is parsed as that command does it; "unknown" takes back what was said. ``note`` adds
    to the notes; with ``outcome`` a late entry is withdrawn. :class:`NotDone` where that
    cannot be.
    """
    clock = Clock()
    name = _ALSO.get(field, field.replace("-", "_") if field.replace("-", "_") in _TEXTS else field)
    try:
        why = _said(reason, "reason")
        with writing(record) as journal:
            journal.claim()  # so that what is read here is still so when it is corrected
            facts = list(stored(journal.rows(batch)))
            entries = [one.entry for one in facts if one.entry is not None]
            if not entries:
                raise no_batch(batch, record)
            row = batch_rows(entries)[0]
            if name == "note":
                note = {"text": _said(value, "note"), "reason": why}
                journal.append([fact("noted", note, batch, clock)])
                return f"Batch {batch}: the note is added."
            data = _correction(row, name, value, clock.utc())
            for seen in row.later:
                if seen.name == name and seen.kind == "wiped" and data["value"] is not None:
                    laminate.must_be_mixed(journal, row, seen.what, data["value"], value)
            seq, kind = _origin(facts, data)
            data |= {"reason": why, "text": value, "of_seq": seq, "of_kind": kind}
            journal.append([fact("corrected", data, batch, clock)])
            elsewhere = _elsewhere(journal, batch, entries, name)
    except (ProfileError, Refused, units.UnitsError) as error:
        raise NotDone(sentence(error)) from None
    one = Correction(data["field"], data["was"], data["value"], why, "", data.get("component"))
    return (
        f"Batch {batch}: {label(one, row.components)} is {told(one, one.value)} now, and was "
        f"{told(one, one.was)}; the record keeps both, and the reason.{elsewhere}"
    )


def _correction(row: BatchRow, name: str, value: str, now_utc: str) -> dict[str, Any]:
    """The fact's data but for its reason and what it corrects."""
    for seen in row.later:
        if name == seen.name:
            return changed(row, name, name, seen.value, laminate.new_value(seen.kind, value))
    for number, (_, air_c) in enumerate(row.said_air, 1):
        if name == f"air-{number}":
            new_c = None if _unknown(value) else temperature_c(value, name)
            return changed(row, name, name, air_c, new_c)
    for cup, age_s in row.thickened.items():
        if name == f"thickened-{cup}":
            if not _unknown(value):
                raise NotDone(
                    f"{name}: {units.shown(value)} was read; give unknown, which takes it back, or "
                    "a note with when it was."
                )
            return changed(row, name, name, age_s, None)
    if name in _of_cups(row):
        return _of_cup(row, name, value)
    if name in _TEXTS:
        new = None if _unknown(value) else _said(value, name)
        new = plies(new) if name == "plies" else new
        return changed(row, name, name, row.about(name), new)
    if name in _ROOM:
        figure = None if _unknown(value) else parsed(name, value)
        data = changed(row, name, name, row.about(name), figure)
        room = {key: figure if key == name else row.about(key) for key in _ROOM}
        return {**data, "follows": damp.follows(room)}
    if name == "left_g":
        return changed(row, name, "left_ug", row.left_ug, _left_ug(row, value))
    if row.entered_at is not None:
        of_entry = late_correction.correction(row, name, value, now_utc)
        if of_entry is not None:
            return of_entry
    raise NotDone(_no_field(row, name))


def _of_cups(row: BatchRow) -> list[str]:
    """What of its cups can be corrected, where there are several: each cup's layup, and each
    share that no scale weighed."""
    numbers = [cup.number for cup in row.cups]
    shares = [f"share-{cup}" for cup, _, _, how, _ in row.cups_told.shares if how != "scale"]
    return [*shares, *(f"layup-{cup}" for cup in numbers)] if len(numbers) > 1 else []


def _of_cup(row: BatchRow, name: str, value: str) -> dict[str, Any]:
    number = int(name.rpartition("-")[2])
    one = next(cup for cup in row.cups if cup.number == number)
    if name.startswith("layup"):
        return changed(row, name, name, one.layup, None if _unknown(value) else _said(value, name))
    was = next(mass for cup, _, mass, _, _ in row.cups_told.shares if cup == number)
    new = None if _unknown(value) else units.mass_ug(value, name)
    total_ug = row.sum_ug() or 0
    held = cups.held_ug(cups.corrected(row.cups_told, name, new), row.cup or 0, total_ug)
    if new is not None and new <= 0:
        raise NotDone(
            f"{name}: {units.shown(value)} is nothing; give a mass above zero, or unknown."
        )
    if min(held.values()) < -SLACK * total_ug:
        cup = min(held, key=lambda cup: held[cup])
        raise NotDone(
            f"{name}: with {units.shown(value)} cup {cup} would have given away more than it held; "
            "a note is accepted."
        )
    return changed(row, name, name, was, new)


def _left_ug(row: BatchRow, value: str) -> int | None:
    if len(row.cups) > 1:
        raise NotDone(
            f"left_g of batch {row.batch} cannot be corrected: it was split, and each of its "
            f"{len(row.cups)} cups has its own; a note is accepted."
        )
    if row.outcome not in ("closed", "entered"):
        raise NotDone(
            f"left_g of batch {row.batch} cannot be corrected, as the batch is {row.outcome}; it "
            "is accepted where the cup was closed (cupside close) or the batch was typed in."
        )
    if _unknown(value):
        return None
    left_ug, held_ug = units.mass_ug(value, "left"), row.sum_ug() or 0
    if left_ug > held_ug:
        raise NotDone(
            f"left: {units.shown(value)} is more than batch {row.batch} ever had, "
            f"{grams(held_ug)} g."
        )
    return left_ug


def _origin(facts: Sequence[Stored], data: dict[str, Any]) -> tuple[int, str]:
    """Number and kind of the fact that says what is corrected; of several the newest."""
    found, airs = (0, ""), 0
    for one in facts:
        entry = one.entry
        if entry is None:
            continue
        airs += _says_air(entry)
        if _says(entry, data, airs):
            found = (one.seq, entry.kind)
    return found


def _says_air(entry: Entry) -> bool:
    return entry.kind == "measured" and isinstance(entry.data.get("air_c"), int | float)


def _elsewhere(record: Reader, batch: int, entries: Iterable[Entry], name: str) -> str:
    """Of which other batches the air was said with this one, and still stands as it was said."""
    if not name.startswith("air-"):
        return ""
    said = [one for one in entries if _says_air(one)][int(name.removeprefix("air-")) - 1]
    found = []
    for number in range(max(1, batch - NEAR), batch + NEAR + 1):
        with suppress(RecordError):
            if number == batch or b"measured" not in [row[5] for row in record.rows(number)]:
                continue
            its = list(record.entries(number))
            now = [air_c for _, air_c in batch_rows(its)[0].said_air]
            then = [one for one in its if _says_air(one)]
            for place, (one, air_c) in enumerate(zip(then, now, strict=False), 1):
                at_once = abs(one.at_ms - said.at_ms) <= AT_ONCE_MS and one.boot == said.boot
                if at_once and one.data == said.data and air_c == said.data["air_c"]:
                    found.append(f"{number} (air-{place}: {air_c:g} degC)")
    if not found:
        return ""
    return f" It was said of other batches too, where it still stands: {', '.join(found)}."


def _says(entry: Entry, data: dict[str, Any], airs: int) -> bool:
    """``airs``: how often the air was told up to this one."""
    match entry.kind:
        case "measured":
            return bool(data["field"] == f"air-{airs}")
        case "thickened":
            return bool(data["field"] == f"thickened-{entry.data.get('cup')}")
        case "opened" | "entered" if "-" in data["field"]:
            return False
        case "opened" | "entered":
            return True
        case "closed":
            return bool(data["field"] == "left_ug")
        case "shared":
            return data["field"] in (
                f"{what}-{entry.data.get('cup')}" for what in ("share", "layup")
            )
        case kind if kind in KINDS:
            return bool(data["field"] == f"{kind}-{entry.data.get('number')}")
        case "corrected":
            return all(entry.data.get(key) == data.get(key) for key in ("field", "component"))
    return False


def _no_field(row: BatchRow, name: str) -> str:
    typed = row.entered_at is not None
    amounts = (amount_name(index, row.components) for index in row.amounts_ug)
    weighed = {*amounts, "tare_g", "resin_g", "hardener_g"}
    weighed |= {f"share-{cup}" for cup, _, _, how, _ in row.cups_told.shares if how == "scale"}
    fields = [*_TEXTS, *_ROOM, "left_g", *(late_correction.fields(row) if typed else ())]
    fields += [f"air-{number}" for number in range(1, len(row.said_air) + 1)]
    fields += [f"thickened-{cup}" for cup in row.thickened]
    fields += [*(one.name for one in row.later), *_of_cups(row)]
    accepted = f"accepted are {', '.join(fields)}, and note, which is added"
    if not typed and name in weighed:
        how = "was weighed by a scale"
        if row.opened.get("weights") == "typed":
            how = "was typed as it was poured, what followed was poured by it,"
        return f"field: {name} of batch {row.batch} {how} and is not corrected; {accepted}."
    return f"field: {units.shown(name)} of batch {row.batch} cannot be corrected; {accepted}."


def _said(text: str, what: str) -> str:
    if not text.strip():
        raise NotDone(f"{what}: nothing was given; give it in words.")
    return words(text.strip(), what) or ""


def _unknown(value: str) -> bool:
    return value.strip().lower() == UNKNOWN
