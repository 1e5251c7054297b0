"""What a data sheet tells of a cure: how long, at one temperature, until it bears what.

A resin's profile may have it as ``[cure]``. This file must never fill in a time that a
data sheet does not say; what it does fill in is how cold a room is taken to be of which
nothing is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from mixer import units
from mixer.app.files.toml_table import Table

#: By key, and what a person calls it.
TIMES = {
    "handling": "handling",
    "peel_ply": "peel ply off",
    "cup_reuse": "cup reused",
}

#: What a witness cup was found to be that is not hard.
NOT_HARD = ("tacky", "dents")
#: Less than this no cured laminating epoxy shows, of neat resin (the figures from memory).
LEAST_HARD = {"shore-d": 70.0, "barcol": 15.0}


@dataclass(frozen=True, slots=True)
class CureTimes:
    """``hours_s`` by the keys of :data:`TIMES`, as many as are told, in s at ``at_c``;
    ``cold_c`` is what a room is taken for of which nothing is known."""

    at_c: float
    hours_s: dict[str, float]
    cold_c: float

    def view(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "temperature_c": self.at_c,
            **{f"{key}_s": self.hours_s.get(key) for key in TIMES},
            "cold_c": self.cold_c,
        }


def read_cure(table: Table) -> CureTimes:
    """This ``[cure]``. Raises :class:`ProfileError`."""
    at_c = table.quantity("temperature", units.temperature_c, 5, 60, "5 to 60 degC")
    hours_s = {
        key: table.quantity(key, units.duration_s, 600, 30 * 86400, "10 min to 30 days")
        for key in TIMES
        if table.has(key)
    }
    if not hours_s:
        raise table.wrong("temperature", at_c, f"a temperature with one of {', '.join(TIMES)}")
    # Of an unheated shop in the cool part of a year (our choice): too cold is a nuisance.
    cold_c = table.quantity(
        "cold", units.temperature_c, -10, 30, "-10 to 30 degC", default="5 degC"
    )
    table.close()
    return CureTimes(at_c, hours_s, cold_c)


def untimed(batches: Sequence[dict[str, Any]]) -> list[int]:
    """The batches of which no time is known at all."""
    return [one["batch"] for one in batches if not any(one["not_before"].values())]


def is_soft(found: str) -> bool:
    """Whether a witness cup of which this was found is not hard yet.

    >>> [is_soft(found) for found in ("dents", "2 shore-d", "82 shore-d", "hard", "? barcol")]
    [True, True, False, False, False]
    """
    figure, _, scale = found.partition(" ")
    told = scale in LEAST_HARD and figure.replace(".", "", 1).isdecimal()
    return found in NOT_HARD or (told and float(figure) < LEAST_HARD[scale])


def without(batches: Sequence[dict[str, Any]], key: str) -> list[int]:
    """The batches whose data sheets do not tell this one time, of all that have some."""
    timed = [one for one in batches if any(one["not_before"].values())]
    return [one["batch"] for one in timed if not one["not_before"].get(key)]


def latest(
    batches: Sequence[dict[str, Any]],
) -> dict[str, tuple[datetime, dict[str, Any]] | None]:
    """When all of these may be touched at the earliest, each with the batch that it hangs on;
    None where no data sheet tells it, or of one batch no time at all is known. Of those that
    tell other times and not this one see :func:`without`."""
    found: dict[str, tuple[datetime, dict[str, Any]] | None] = {}
    for key in TIMES:
        known = [
            (datetime.fromisoformat(one["not_before"][key]), one)
            for one in batches
            if one["not_before"].get(key)
        ]
        told = known and not untimed(batches)
        found[key] = max(known, key=lambda one: one[0]) if told else None
    return found
