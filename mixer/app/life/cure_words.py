"""How far a laminate has cured, for a person.

Must never say that it is ready, nor leave out how much of it was assumed.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from mixer.app.files.cure_times import TIMES

FIRST = (
    "A clock and no test: the maker's data sheet comes first, then the witness cup. A thick or "
    "filled part is another matter: cupside life --shape stack."
)


def lines(found: dict[str, Any]) -> list[str]:
    """The answer of :mod:`mixer.app.life.cure_clock` in lines, by local time."""
    said: list[str] = []
    now = datetime.fromisoformat(found["now_utc"])
    for one in found["batches"]:
        said += _batch(one, now)
    if found["layup"] is not None and len(found["batches"]) > 1:
        said.append(f"All of {found['layup']}:")
        said += [*_due(found["not_before"], now), *found["notes"]]
    return [*said, FIRST]


def of_late(found: dict[str, Any]) -> list[str]:
    """The answer of :func:`mixer.app.life.curing.of_late` in lines."""
    nothing = "Nothing that was mixed within a fortnight is known to be curing still."
    return [*(found["curing"] or [nothing]), FIRST]


def _batch(one: dict[str, Any], now: datetime) -> list[str]:
    hours = one["hours_by"]
    said = [
        f"Batch {one['batch']}, {one['resin']}: {one['age_h']:g} h since hardener met resin; "
        f"temperatures logged for {hours['logged']:g} h, typed for {hours['typed']:g} h, "
        f"{one['assumed_c']:g} degC assumed for {hours['assumed']:g} h"
    ]
    if one["conversion"] is not None:
        low, high = (f"{part:.0%}" for part in one["conversion"])
        spread = low if low == high else f"{low} to {high}"
        least, most = (f"{part:.0%}" for part in one["conversion_range"])
        said.append(f"  reacted       about {spread} ({least} to {most} by all that is doubted)")
    said += _due(one["not_before"], now)
    if any(one["not_before"].values()):
        said.append(
            f"  from now on   {one['from_now_c']:g} degC"
            f"{' (assumed; --air says otherwise)' if one['from_now_assumed'] else ''}"
        )
    return [*said, *one["notes"]]


def _due(not_before: dict[str, str | None], now: datetime) -> list[str]:
    said = []
    for key, utc in not_before.items():
        if utc is None:
            continue
        when = datetime.fromisoformat(utc)
        hours = (when - now).total_seconds() / 3600
        until = f"in {hours:.1f} h" if hours > 0 else "that is past"
        here = when.astimezone()
        said.append(f"  {TIMES[key]:<14}not before {here:%Y-%m-%d %H:%M} ({until})")
    return said
