"""How one fact changes what is known of its batch.

Pure, and forgiving: a fact of another program may hold anything, and must never end the
reading. What is no such value counts as not known.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from mixer.record import cups
from mixer.record.corrections import ABOUT, Correction, read
from mixer.record.envelope import Entry
from mixer.record.later import KINDS, said_otherwise
from mixer.record.later import corrected as later_corrected
from mixer.record.later import read as read_later
from mixer.record.row import ENTRY, BatchRow, Moment, text, whole

#: What goes with a resin, where that of a late entry is corrected.
_OF_RESIN = {"resin_source": str, "resin_confirmed": bool, "recipe": dict, "profile": dict}


def fold(row: BatchRow, entry: Entry) -> BatchRow:
    """The row once this fact is known.

    >>> warm = Entry("noted", {"text": "warm"}, 5, "b1", "2024-05-01T08:00:00.000Z", 7, "shop")
    >>> fold(BatchRow(7), warm).notes
    ('warm',)
    """
    data, when = entry.data, Moment(entry.utc, entry.at_ms, entry.boot)
    match entry.kind:
        case "opened":
            return replace(row, opened=data, opened_at=when)
        case "tared":
            # None of a cup that was zeroed on a scale with no cable: nobody knows its mass.
            return replace(row, tare_ug=whole(data.get("tare_ug")) or None)
        case "begun" if row.contact is None and _is_hardener(row, data.get("component")):
            return replace(row, contact=_before(when, whole(data.get("unseen_ms")) or 0))
        case "jug":
            return _jug(row, data)
        case "jug-weight":
            return _jug_weight(row, data)
        case "accepted":
            return _accepted(row, data)
        case "parted":
            return _parted(row, data)
        case "doubted":
            return replace(row, doubts=(*row.doubts, *_texts(data.get("why"))))
        case "noted":
            return _noted(row, data, when)
        case "corrected":
            return _corrected(row, data, when)
        case kind if kind in KINDS:
            one = read_later(kind, data)
            return row if one is None else replace(row, later=(*row.later, one))
        case "entered":
            return _entered(row, data, when)
        case "foretold":
            return replace(row, foretold=data)
        case "foretold-share" if (cup := whole(data.get("cup"))) is not None:
            return replace(row, shares_foretold={**row.shares_foretold, cup: data})
        case "measured":
            return _measured(row, data, when)
        case "thickened":
            return _thickened(row, data)
        case "live":
            row = replace(row, cup=whole(data.get("cup")), live_at=when)
            return _judged(row, data)
        case "ended":
            how = data.get("how")
            row = replace(row, ended_how=how if isinstance(how, str) else "ended")
            return _judged(row, data)
        case "closed":
            return replace(
                row,
                closed_at=when,
                closed_how=text(data.get("how")),
                left_ug=whole(data.get("left_ug")),
                cups_told=cups.follow(row.cups_told, entry.kind, data, when),
            )
        case "shared" | "filled" | "moved" | "emptied":
            return replace(row, cups_told=cups.follow(row.cups_told, entry.kind, data, when))
    return row


def _before(when: Moment, ms: int) -> Moment:
    """So much earlier: it may have begun when the weight could not be seen."""
    if not 0 < ms < 10**10:  # a hundred days: no pour lasts so long
        return when
    try:
        utc = datetime.fromisoformat(when.utc) - timedelta(milliseconds=ms)
        text = utc.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    except (ValueError, OverflowError):  # there is no such time
        text = when.utc
    return Moment(text, when.at_ms - ms, when.boot)


def _accepted(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component, net_ug = whole(data.get("component")), whole(data.get("net_ug"))
    if component is None or component < 0 or net_ug is None:
        return row
    return replace(row, amounts_ug={**row.amounts_ug, component: net_ug})


def _jug(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component, called = whole(data.get("component")), whole(data.get("called"))
    if component is None or called is None or not 0 <= called < len(row.components):
        return row
    return replace(row, jugs={**row.jugs, called: component})


def _jug_weight(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component = whole(data.get("component"))
    left_ug, due_ug = whole(data.get("left_ug")), whole(data.get("due_ug"))
    if component is None or left_ug is None or due_ug is None:
        return row
    return replace(row, jug_weights={**row.jug_weights, component: (left_ug, due_ug)})


def _measured(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    air_c = _figure(data.get("air_c"), None)
    if air_c is None:
        return row
    return replace(row, said_air=(*row.said_air, (when, air_c)))


def _thickened(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    """The first time that it was said of this cup counts."""
    age_s, cup = _figure(data.get("age_s"), None), whole(data.get("cup")) or row.cup or 0
    if age_s is None or cup in row.thickened:
        return row
    row = replace(row, thickened={**row.thickened, cup: age_s})
    if not (model_s := _figure(data.get("model_s"), None)):
        return row
    return replace(row, thickens_by={**row.thickens_by, cup: model_s})


def _parted(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    before, after = whole(data.get("from_ug")), whole(data.get("gross_ug"))
    if before is None or after is None:
        return row
    return replace(_judged(row, data), parted_ug=(row.parted_ug or 0) + before - after)


def _noted(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    texts = _texts(data.get("text"))
    later = tuple(
        Correction("note", None, text, reason, when.utc)
        for text in texts
        for reason in _texts(data.get("reason"))
    )
    return replace(row, notes=(*row.notes, *texts), corrections=(*row.corrections, *later))


def _stood(row: BatchRow, field: str) -> Any:
    """What was said at the bench or seen of the laminate, and a correction takes back; None where
    nobody said it."""
    said = {f"air-{place}": air_c for place, (_, air_c) in enumerate(row.said_air, 1)}
    said |= {f"thickened-{cup}": age_s for cup, age_s in row.thickened.items()}
    return {**said, **{one.name: one.value for one in row.later}}.get(field)


def _corrected(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    one = read(data, when.utc)
    if one is None:
        return row
    if one.was is None:
        one = replace(one, stood=_stood(row, one.field))
    about = {name: value for name, value in one.changes.items() if name in ABOUT}
    row = replace(row, corrections=(*row.corrections, one), told={**row.told, **about})
    row = replace(row, later=later_corrected(row.later, one.field, one.value))
    air, thickened = said_otherwise(row.said_air, row.thickened, one.field, one.value)
    told = cups.corrected(row.cups_told, one.field, one.value)
    row = replace(row, said_air=air, thickened=thickened, cups_told=told)
    if one.field.startswith(("air", "resin_c", "temperature")):
        row = replace(row, thickens_by={})  # what stood there then was of a slip
    if one.field == "left_ug":
        return replace(row, left_ug=whole(one.value))
    if one.field == "outcome" and row.ended_how in ENTRY and one.value in ENTRY:
        return replace(row, ended_how=one.value)
    if row.entered_at is None:
        return row  # what a scale weighed is not for a person to say
    if one.field == "mixed_utc":
        return replace(row, mixed_utc=text(one.value))
    if one.field == "resin_system":
        return _of_resin(row, one)
    mass_ug = whole(one.value)
    if one.field != "amount_ug" or one.component not in row.amounts_ug or mass_ug is None:
        return row
    return replace(
        row,
        amounts_ug={**row.amounts_ug, one.component: mass_ug},
        ratio_actual=_figure(one.follows.get("ratio_actual"), None),
        unproven_because=text(one.follows.get("unproven_because")) or row.unproven_because,
    )


def _of_resin(row: BatchRow, one: Correction) -> BatchRow:
    known = {
        name: one.follows[name]
        for name, kind in _OF_RESIN.items()
        if isinstance(one.follows.get(name), kind)
    }
    opened = {**row.opened, **known, "resin_system": one.value}
    return _judged(replace(row, opened=opened), {**one.follows, "verdict": None})


def _entered(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    row = replace(row, opened=data, entered_at=when, ended_how="entered")
    row = replace(row, mixed_utc=text(data.get("mixed_utc")))
    return _judged(replace(row, notes=(*row.notes, *_texts(data.get("note")))), data)


def _judged(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    amounts = data.get("amounts_ug")
    told = dict(enumerate(amounts)) if isinstance(amounts, list) else {}
    known = {index: mass for index, mass in told.items() if whole(mass) is not None}
    return replace(
        row,
        amounts_ug={**row.amounts_ug, **known},
        verdict=text(data.get("verdict")) or row.verdict,
        ratio_target=_figure(data.get("ratio_target"), row.ratio_target),
        ratio_actual=_figure(data.get("ratio_actual"), row.ratio_actual),
        unproven_because=text(data.get("unproven_because")) or row.unproven_because,
    )


def _is_hardener(row: BatchRow, component: object) -> bool:
    index, components = whole(component), row.components
    if index is None or not 0 <= index < len(components):
        return False
    return components[index].get("role") == "hardener"


def _figure(value: object, otherwise: float | None) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    return otherwise


def _texts(value: object) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) and value else ()
