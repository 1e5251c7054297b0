"""The build record as CSV: one line for each batch, and where it was split one for each of its
cups; for a spreadsheet and for good. Pure and exact; :mod:`mixer.record.csv_file` makes the file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from math import isfinite
from typing import Any, TypeGuard

from mixer.record import later
from mixer.record.corrections import ABOUT, line
from mixer.record.cups import Cup
from mixer.record.envelope import Entry
from mixer.record.views import BatchRow, batch_rows

#: Every export has these columns, in this order; scripts rely on them.
COLUMNS = (
    *("batch", "cup", "opened_utc", "live_utc", "closed_utc", "resin_system", "resin_source"),
    *("size_g", "tare_g", "resin_g", "hardener_g"),
    *("ratio_target", "ratio_actual", "ratio_deviation_pct", "verdict", "weights"),
    *("air_c", "resin_c", "rh_pct", "dew_point_c", "resin_lot", "hardener_lot"),
    *("operator", "layup", "plies", "left_g", "note"),
    *("outcome", "closed_how", "unproven_because", "bench", "scale", "program"),
    *("working_min", "working_low_min", "working_high_min", "gel_min", "peak_c", "peak_min"),
    *("runaway", "thickened_min"),
    *("entered_utc", "corrections", "jugs", "temperatures", "witness", "findings", "jug_weights"),
    *("wiped", "cloth_g"),
    *("cups", "share_g", "share_weights", "filler", "filler_g", "filler_weights", "moved_utc"),
    *("surface_c", "dew_margin_c"),
    *("record_trouble", "record_facts", "record_head"),
)
#: What is of the whole batch and stands in its first line alone, so that a sum over the lines
#: counts it once.
_ONCE = ("size_g", "tare_g", "resin_g", "hardener_g", "parted_g", "cloth_g")
#: What is said of a batch that is not whole.
LACKING = "Facts of it are missing, or may be: it is shown as far as it can be read."
#: Columns that stand in the batch's first fact under the same name.
_AS_OPENED = ("resin_system", "resin_source", "weights", "bench", "program")


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a record stands: its number of facts, the hash of the newest, and what is
    wrong with it, in a sentence. It goes with every export, so that what is later cut
    off from the record or written anew is seen by comparing. ``whole``: nothing is, or all that
    the sentence says is that a newer program wrote it."""

    facts: int
    head: bytes
    trouble: str = ""
    whole: bool = True


def rows(entries: Iterable[Entry], stand: Stand | None = None) -> list[dict[str, Any]]:
    """One dict for each batch, by its number, with the keys of :data:`COLUMNS`; of one that was
    split one for each cup, its own first (see :func:`rows_of`).

    Where hardeners are blended each adds ``<name>_g``, and so does an additive; what was
    taken out of a stirred mix to make room for its correction adds ``parted_g``. Grams are
    exact decimals; a ratio (hardener per 100 resin by weight) has 3 decimals, its deviation
    2; ``jugs`` says of how many components the tag that was read last is their own; None is
    what is not known. Texts are as the user wrote them.
    """
    batches = batch_rows(entries)
    return [row for batch in batches for row in rows_of(batch, stand)]


def rows_of(batch: BatchRow, stand: Stand | None = None) -> list[dict[str, Any]]:
    """The lines of one batch: one, or one for each cup that it was split into.

    Each line has the ratio, the verdict, the lots, the room and the times of the batch, and of
    its own cup how much of the mix was in it (``share_g``, and by what that is known), how long it
    was to live, which filler, how it ended, and its layup where it has one of its own. What was
    weighed of the whole batch stands in the first line alone.
    """
    whole, cups = row_of(batch, stand), batch.cups
    if len(cups) < 2:
        return [whole]
    named = {name for name in whole if name not in COLUMNS}  # what each hardener came to
    once = dict.fromkeys(name for name in whole if name in _ONCE or name in named)
    count = len(cups)
    return [
        {**whole, **(once if place else {}), **_cup(batch, cup), "cups": f"{place + 1} of {count}"}
        for place, cup in enumerate(cups)
    ]


def _cup(batch: BatchRow, cup: Cup) -> dict[str, Any]:
    """What is of one of several cups alone."""
    own = batch.shares_foretold.get(cup.number, {})
    return {
        "cup": cup.number,
        "outcome": "live" if cup.closed_at is None else "closed",
        "closed_utc": cup.closed_at and cup.closed_at.utc,
        "closed_how": cup.closed_how,
        "left_g": _grams(cup.left_ug),
        **({"layup": cup.layup, "plies": None} if cup.layup else {}),
        "share_g": _grams(cup.mass_ug),
        "share_weights": cup.weights or "not weighed",
        "thickened_min": _minutes(batch.thickened.get(cup.number)),
        **_foretold(own if own.get("low_s") is not None else batch.foretold),
        **_fill(cup),
    }


def _fill(cup: Cup) -> dict[str, Any]:
    """What went into a cup once it was stirred, and whether all was moved to another."""
    masses = [fill.mass_ug for fill in cup.fills]
    known = [mass for mass in masses if mass is not None]
    by = dict.fromkeys(fill.weights or "not weighed" for fill in cup.fills)
    return {
        "filler": " | ".join(fill.filler for fill in cup.fills) or None,
        "filler_g": _grams(sum(known)) if known and len(known) == len(masses) else None,
        "filler_weights": " | ".join(by) or None,
        "moved_utc": cup.moved_utc,
    }


def row_of(batch: BatchRow, stand: Stand | None = None) -> dict[str, Any]:
    """The one line of a batch, as if it never was split: what is left is the sum of its cups."""
    opened, cups = batch.opened, batch.cups
    row: dict[str, Any] = dict.fromkeys(COLUMNS)
    row.update({name: opened.get(name) for name in _AS_OPENED})
    row.update({name: batch.about(name) for name in ABOUT})
    row.update(
        batch=batch.batch,
        cup=batch.cup,
        opened_utc=batch.mixed_utc or (batch.opened_at and batch.opened_at.utc),
        live_utc=batch.live_at and batch.live_at.utc,
        closed_utc=batch.closed_at and batch.closed_at.utc,
        size_g=_grams(opened.get("size_ug")),
        tare_g=_grams(batch.tare_ug),
        resin_g=_grams(batch.sum_ug("resin")),
        hardener_g=_grams(batch.sum_ug("hardener")),
        ratio_target=_rounded(batch.ratio_target, "0.001"),
        ratio_actual=_rounded(batch.ratio_actual, "0.001"),
        ratio_deviation_pct=_deviation_pct(batch),
        verdict=batch.verdict,
        left_g=_grams(batch.left_ug),
        note=" | ".join(batch.notes) or None,
        outcome=batch.outcome,
        closed_how=batch.closed_how,
        unproven_because=batch.unproven_because or " | ".join(batch.doubts) or None,
        scale=opened.get("scale_name"),
        entered_utc=batch.entered_at and batch.entered_at.utc,
        corrections=" | ".join(line(one, batch.components) for one in batch.corrections) or None,
        jugs=_jugs(batch),
        jug_weights=_jug_weights(batch),
        temperatures=_temperatures(batch),
        witness=_later(batch, "witness"),
        findings=_later(batch, "finding"),
        wiped=_later(batch, "wiped"),
        cloth_g=_grams(sum(kit["cloth_ug"] for kit in batch.kits) or None),
        thickened_min=_minutes(min(batch.thickened.values(), default=None)),
        **_foretold(batch.foretold),
    )
    if cups:
        row.update(_fill(cups[0]))
    if len(cups) > 1:
        lefts = [cup.left_ug for cup in cups if cup.left_ug is not None]
        hows = dict.fromkeys(cup.closed_how for cup in cups if cup.closed_how)
        row.update(left_g=_grams(sum(lefts)) if lefts else None)
        row.update(closed_how=" | ".join(hows) or None)
    if stand is not None:
        lacking = LACKING if batch.lacking else ""
        row.update(
            record_trouble=" ".join(filter(None, (lacking, stand.trouble))) or None,
            record_facts=stand.facts,
            record_head=stand.head.hex(),
        )
    if batch.parted_ug is not None:
        row["parted_g"] = _grams(batch.parted_ug)
    roles = [c.get("role") for c in batch.components]
    blended = roles.count("hardener") > 1
    for index, role in enumerate(roles):
        if role == "additive" or (blended and role == "hardener"):
            name = f"{batch.components[index].get('name') or f'component {index + 1}'}_g"
            if name in row:  # a hardener by the name of one of our columns
                name = f"component {index + 1}: {name}"
            row[name] = _grams(batch.amounts_ug.get(index))
    return row


def _deviation_pct(batch: BatchRow) -> Decimal | None:
    if batch.ratio_actual is None or not batch.ratio_target:
        return None
    target = _decimal(batch.ratio_target)
    return _rounded(100 * (_decimal(batch.ratio_actual) - target) / target, "0.01")


def _jugs(batch: BatchRow) -> str | None:
    """Of how many components the last tag that was read is their own; None: none was read.

    >>> _jugs(BatchRow(1, {"recipe": {"components": [{}, {}]}}, jugs={0: 0, 1: 0}))
    '1 of 2'
    """
    right = sum(read == asked for asked, read in batch.jugs.items())
    return f"{right} of {len(batch.components)}" if batch.jugs else None


def _jug_weights(batch: BatchRow) -> str | None:
    """What left each jug that was weighed before and after, and what came into the cup.

    >>> two = {"recipe": {"components": [{"name": "resin"}, {"name": "hardener"}]}}
    >>> _jug_weights(BatchRow(1, two, jug_weights={1: (16_000_000, 15_900_000)}))
    'hardener 16 g of 15.9 g'
    """
    names = [c.get("name") or f"component {i + 1}" for i, c in enumerate(batch.components)]
    told = [
        f"{names[i] if 0 <= i < len(names) else f'component {i + 1}'} "
        f"{_grams(left):f} g of {_grams(due):f} g"
        for i, (left, due) in sorted(batch.jug_weights.items())
    ]
    return " | ".join(told) or None


def _later(batch: BatchRow, kind: str) -> str | None:
    """What was seen of its laminate and was not taken back."""
    counts = [one for one in batch.later if one.kind == kind and one.value is not None]
    return " | ".join(later.line(one) for one in counts) or None


def _temperatures(batch: BatchRow) -> str | None:
    """Of its room, as it was said at the bench and typed later, by time."""
    said = [
        (when.utc, f"{later.told([air_c, air_c])} ({when.utc})") for when, air_c in batch.measured
    ]
    typed = [one for one in batch.later if one.degrees is not None]
    said += [(one.from_utc, later.line(one)) for one in typed]
    return " | ".join(line for _, line in sorted(said, key=lambda it: it[0])) or None


def _foretold(told: Mapping[str, Any]) -> dict[str, Any]:
    """What was foretold of a cup. Of another program's, anything may stand there.

    >>> _foretold({"working_s": 1445, "peak_c": 187})["working_min"]
    Decimal('24.1')
    """
    names = {"working": "working", "low": "working_low", "high": "working_high"}
    names |= {"gel": "gel", "peak": "peak"}
    peak_c, runaway = told.get("peak_c"), told.get("runaway")
    return {
        **{f"{name}_min": _minutes(told.get(f"{key}_s")) for key, name in names.items()},
        "peak_c": peak_c if _is_number(peak_c) else None,
        "runaway": runaway if isinstance(runaway, bool) else None,
    }


def _minutes(seconds: object) -> Decimal | None:
    return _rounded(seconds / 60, "0.1") if _is_number(seconds) else None


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)


def _grams(mass_ug: object) -> Decimal | None:
    if not isinstance(mass_ug, int) or isinstance(mass_ug, bool):
        return None
    return Decimal(mass_ug).scaleb(-6).normalize()


def _decimal(number: float) -> Decimal:
    return Decimal(repr(number))  # the shortest decimal that names this float


def _rounded(number: float | Decimal | None, step: str) -> Decimal | None:
    if number is None:
        return None
    exact = number if isinstance(number, Decimal) else _decimal(number)
    # As many digits as any quotient of two floats needs; + 0 so that -0.00 is 0.00.
    return exact.quantize(Decimal(step), ROUND_HALF_EVEN, Context(prec=1000)) + 0
