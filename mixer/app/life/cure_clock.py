"""How far the laminate of a batch, or of a layup, has cured, and when it may be touched.

By the temperatures that the record has since hardener met resin; where there are none, by
those that a builder typed, and else as if it had been cold. It looks at the record and
writes nothing. It must never call a laminate ready: only say before when it is not.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from mixer import units
from mixer.app.book import looking
from mixer.app.book.laminate import begun as begun_at
from mixer.app.book.laminate import of_layup
from mixer.app.clock import Clock
from mixer.app.files.cure_times import TIMES, CureTimes, is_soft, latest, untimed, without
from mixer.app.files.profiles import ProfileError, ResinProfile, kept_resin
from mixer.app.life.cup_life import off_told
from mixer.app.life.foretelling import put_right
from mixer.app.life.life import label_of, temperature_c
from mixer.app.sentence import NotDone
from mixer.record.later import USED
from mixer.record.stored import stored
from mixer.record.views import BatchRow, Moment, batch_rows
from mixer.science.cure import Cure
from mixer.science.cure_clock import (
    COLDEST_C,
    ENERGIES_J_MOL,
    WARMEST_C,
    Span,
    conversion,
    reached_s,
    worth_s,
)
from mixer.science.fitting import fit
from mixer.science.label import Contradiction, Label
from mixer.science.pot_life import doubted, unchecked

#: A reading counts for so long before and after it; where two meet, each up to the middle
#: (our choice).
HOLDS_S = 3600.0
#: Where no profile says how cold a room may be of which nothing is known; see
#: :class:`CureTimes`.
COLD_C = 5.0
LONG = timedelta(days=366)  # what is farther ahead wants warmth, and that is said (our choice)
#: How far the glass of the full cure, which is from memory, may be off (our choice).
GLASS_OFF_C = 10.0
MAKER = "the maker's data sheet says how long that one wants"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Of the time since: seconds from its start to its end, its temperature at least and
    at most, and ``by`` what: ``logged``, ``typed`` or ``assumed``."""

    seconds: float
    least_c: float
    most_c: float
    by: str


def answer(
    record: Path, batch: str | None, layup: str | None = None, air: str | None = None
) -> dict[str, Any]:
    """Where the laminate stands, ready for JSON. ``air`` is what the room has from now on,
    as typed; else it is taken to be cold. Raises :class:`NotDone` with one sentence.
    """
    then_c = temperature_c(air, "air")
    now = Clock().now()
    if (batch is None) == (layup is None):
        raise NotDone("Give the number of a batch, such as 3, or --layup with its name.")
    with looking.reading(record) as journal:
        if layup is not None:
            rows = of_layup(journal, layup)
        else:
            number = looking.batch_number(batch or "")
            facts = stored(journal.rows(number))
            rows = batch_rows(one.entry for one in facts if one.entry is not None)
            if not rows:
                raise looking.no_batch(number, record)
    if not rows:
        raise NotDone(f"layup: no batch of {units.shown(layup)} is in the record {record}.")
    batches = [of_batch(row, now, then_c) for row in rows]
    due = {key: one and _utc(one[0]) for key, one in latest(batches).items()}
    unknown = untimed(batches)
    off = {one["batch"] for one in batches if one["off"]}
    notes = [
        f"All of it has no time, as none is known of batch {number}: "
        f"{'see there' if number in off else MAKER}."
        for number in (unknown if len(batches) > 1 else ())
    ]
    notes += [
        f"{TIMES[key].capitalize()}: none is known of batch {number}, and {MAKER}."
        for key in due
        if due[key] is not None
        for number in without(batches, key)
    ]
    found = {"layup": layup, "now_utc": now.utc, "batches": batches, "not_before": due}
    return {**found, "notes": notes}


def of_batch(
    row: BatchRow, now: Moment, then_c: float | None, *, how_far: bool = True
) -> dict[str, Any]:
    """The same of one batch; a figure that is not known is None. Without ``how_far`` its
    conversion is not reckoned, which takes most of the time."""
    moment = begun_at(row)
    begun = _time(moment.utc) if moment else None
    if moment is None or begun is None or row.outcome not in USED:
        raise NotDone(
            f"Batch {row.batch} is {row.outcome}: there is no laminate of it; a batch that is "
            "live, closed or typed in has one."
        )
    resin, notes = _resin(row)
    times = resin.cure if resin else None
    cold_c = _cold_c(row, begun, times.cold_c if times else COLD_C)
    until = datetime.fromisoformat(now.utc)
    if moment.boot == now.boot:  # a clock that was set makes no laminate older
        until = min(until, begun + timedelta(milliseconds=max(0, now.at_ms - moment.at_ms)))
    since = stretches(row, begun, until, cold_c)
    by_now = datetime.fromisoformat(now.utc) - (until - begun)  # begun, by the clock as it is now
    low = [Span(one.seconds, one.least_c) for one in since]
    high = [Span(one.seconds, one.most_c) for one in since]
    # Of too little of one side no more of the other can react, whatever the label's clock says.
    off = row.off
    label, why = _label(resin) if not off else (None, [])
    cure = None if label is None else fit(label).cure
    tried = [one for one in row.later if one.kind == "witness" and one.value]
    tried.sort(key=lambda one: one.to_utc)  # when it was tried counts, and not when it was told
    found: dict[str, Any] = {
        "batch": row.batch,
        "resin": row.opened.get("resin_system"),
        "begun_utc": _utc(begun),
        "age_h": round(sum(s.seconds for s in since) / 3600, 1),
        "hours_by": {
            by: round(sum(s.seconds for s in since if s.by == by) / 3600, 1)
            for by in ("logged", "typed", "assumed")
        },
        "assumed_c": cold_c,
        "from_now_c": cold_c if then_c is None else then_c,
        "from_now_assumed": then_c is None,
        "conversion": None,
        "conversion_range": None,
        "glass_at": None,
        "not_before": {},
        "worth_h": None,
        "off_ratio": next(iter(off.values()), None),
        "off": off,
        "witness": [one.value for one in tried],
        "witness_early": False,
    }
    if label is not None and cure is not None and how_far:
        known = [conversion(cure, spans) for spans in (low, high)]
        found["conversion"] = [round(part, 3) for part in known]
        found["conversion_range"] = _range(label, low, high, known)
    if cure is not None:
        found["glass_at"] = round(cure.glass_conversion(found["from_now_c"]), 3)
    if off:
        found["not_before"] = dict.fromkeys(times.hours_s if times else ())
    elif times is not None:
        # What two points of a label gave may be beyond what is usual.
        energies = (*ENERGIES_J_MOL, *((cure.e1_j_mol,) if cure else ()))
        found["worth_h"] = round(worth_s(low, times.at_c, energies) / 3600, 1)
        for key, wanted_s in times.hours_s.items():
            after_s = reached_s(low, found["from_now_c"], times.at_c, wanted_s, energies)
            found["not_before"][key] = _utc(by_now + timedelta(seconds=after_s))
        if tried:
            found["witness_early"] = tried[-1].to_utc < min(found["not_before"].values())
        slow = [
            TIMES[key]
            for key, utc in found["not_before"].items()
            if datetime.fromisoformat(utc) > datetime.fromisoformat(now.utc) + LONG
        ]
        if slow:
            notes.append(
                f"At {found['from_now_c']:g} degC the time of {', '.join(slow)} is more than a "
                "year ahead: it wants warmth."
            )
    if not off and times is not None and row.verdict == "unproven":
        because = f" ({row.unproven_because})" if row.unproven_because else ""
        notes.append(f"Its ratio is unproven{because}: these times are those of a right one.")
    return {**found, "notes": [*notes, *why, *_notes(found, times, cure)]}


def stretches(row: BatchRow, begun: datetime, now: datetime, cold_c: float) -> list[Stretch]:
    """From first contact until now, each with what is known of its temperature: a reading
    within an hour of it, else the typed least and most that it lies in, else cold."""
    readings, typed = _known(row, begun)
    hold = timedelta(seconds=HOLDS_S)
    edges = {begun, now}
    readings.sort()
    for at, _ in readings:
        edges |= {at - hold, at + hold}
    for (at, _), (after, _) in itertools.pairwise(readings):
        edges.add(at + (after - at) / 2)
    for at, until, _ in typed:
        edges |= {at, until}
    times = sorted(edge for edge in edges if begun <= edge <= now)
    found = []
    for start, end in itertools.pairwise(times):
        middle = start + (end - start) / 2
        near = [(abs(at - middle), c) for at, c in readings if abs(at - middle) <= hold]
        within = [degrees for at, until, degrees in typed if at <= middle <= until]
        if near:
            temp_c = _believed(min(near)[1])
            low_c, high_c, by = temp_c, temp_c, "logged"
        elif within:
            low_c, high_c = min(d[0] for d in within), max(d[1] for d in within)
            low_c, high_c, by = _believed(low_c), _believed(high_c), "typed"
        else:
            low_c, high_c, by = cold_c, cold_c, "assumed"
        found.append(Stretch((end - start).total_seconds(), low_c, high_c, by))
    return found


def _known(
    row: BatchRow, begun: datetime
) -> tuple[list[tuple[datetime, float]], list[tuple[datetime, datetime, tuple[float, float]]]]:
    """Each reading with its time, and what was typed from one time to another."""
    readings: list[tuple[datetime, float]] = []
    typed: list[tuple[datetime, datetime, tuple[float, float]]] = []
    air_c = row.about("air_c")
    if isinstance(air_c, int | float):
        readings.append((begun, float(air_c)))
    for moment, measured_c in put_right(row.measured):
        if (when := _time(moment.utc)) is not None:
            readings.append((when, measured_c))
    for one in row.later:
        degrees, at, until = one.degrees, _time(one.from_utc), _time(one.to_utc)
        if degrees is None or at is None or until is None:
            continue
        if at == until:
            readings.append((at, degrees[0]))
        else:
            typed.append((at, until, degrees))
    return readings, typed


def _cold_c(row: BatchRow, begun: datetime, cold_c: float) -> float:
    """What is assumed of a room of which nothing is known: cold, and no warmer than it was ever
    seen."""
    readings, typed = _known(row, begun)
    seen = [c for _, c in readings] + [degrees[0] for _, _, degrees in typed]
    return _believed(min([cold_c, *seen]))


def _notes(found: dict[str, Any], times: CureTimes | None, cure: Cure | None) -> list[str]:
    notes = []
    if found["off"]:
        notes.append(
            f"It was weighed with {off_told(found['off'])} and may never cure as the label "
            "says: its witness cup and the maker's word decide; do not load or rely on it."
        )
    elif times is None:
        notes.append(
            "Its profile has no [cure] with times: the maker's data sheet says how long it wants."
        )
    elif cure is not None:
        longest_s = max(times.hours_s.values())
        wanted = conversion(cure, [Span(longest_s, min(WARMEST_C, times.at_c))])
        if found["glass_at"] < cure.glass_conversion(times.at_c) - 0.01:
            notes.append(
                f"At {found['from_now_c']:g} degC it turns to glass at about "
                f"{found['glass_at']:.0%} and all but stops; {longest_s / 3600:g} h at "
                f"{times.at_c:g} degC give about {wanted:.0%}: it wants warmth for that."
            )
    if not found["witness"]:
        notes.append(
            "Its witness cup is not logged: try it, then cupside record witness "
            f"{found['batch']} --hardness hard (tacky, dents, or a figure such as '80 shore-d')."
        )
    elif is_soft(found["witness"][-1]):
        notes.append(
            f"Its witness cup was {found['witness'][-1]}: whatever the clock says, it is not there."
        )
    elif found["witness_early"]:
        notes.append(
            f"Its witness cup was {found['witness'][-1]} sooner than its clock has any time: try "
            "it again after that."
        )
    return notes


def _resin(row: BatchRow) -> tuple[ResinProfile | None, list[str]]:
    """As the record kept it: what the file says today was not poured."""
    kept = row.opened.get("profile")
    raw = kept.get("resin") if isinstance(kept, dict) else None
    if not isinstance(raw, dict):
        return None, ["The record has no profile of its resin."]
    try:
        return kept_resin(raw, f"the profile of batch {row.batch}"), []
    except ProfileError as error:
        return None, [f"The profile that the record has of its resin cannot be read ({error})."]


def _range(label: Label, low: list[Span], high: list[Span], known: Sequence[float]) -> list[float]:
    """The least and the most by all that is doubted, added in quadrature to what the
    temperatures leave open."""
    system = fit(label)
    less = more = 0.0
    cures = [[one.cure for one, _ in pair] for pair in doubted(label, system)]
    full_c = system.cure.tg_full_c
    glasses = (full_c - GLASS_OFF_C, full_c + GLASS_OFF_C)
    cures.append([replace(system.cure, tg_full_c=glass_c) for glass_c in glasses])
    for pair in cures:
        less += max(0.0, *(known[0] - conversion(one, low) for one in pair)) ** 2
        more += max(0.0, *(conversion(one, high) - known[1] for one in pair)) ** 2
    return [
        round(max(0.0, known[0] - math.sqrt(less)), 3),
        round(min(1.0, known[1] + math.sqrt(more)), 3),
    ]


def _label(resin: ResinProfile | None) -> tuple[Label | None, list[str]]:
    if resin is None:
        return None, []
    try:
        label = label_of(resin)
        first = label.points[0]
        if why := unchecked(label, first.mass_g, first.temp_c, first.temp_c):
            return None, [f"No conversion: {why}."]
        fit(label)
        return label, []
    except (NotDone, Contradiction) as error:
        return None, [f"No conversion: {error}."]


def _believed(temp_c: float) -> float:
    return min(WARMEST_C, max(COLDEST_C, temp_c))


def _time(utc: str | None) -> datetime | None:
    """None where another program wrote what is no time."""
    try:
        when = datetime.fromisoformat(utc or "")
    except ValueError:
        return None
    return when if when.tzinfo is not None else None


def _utc(when: datetime) -> str:
    return when.isoformat(timespec="milliseconds").replace("+00:00", "Z")
