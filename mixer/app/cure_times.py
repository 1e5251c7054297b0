"""What a data sheet tells of a cure: how long, at one temperature, until it bears what.

A resin's profile may have it as ``[cure]``. This file must never fill in a time that a
data sheet does not say; what it does fill in is how cold a room is taken to be of which
nothing is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from mixer import units
from mixer.app.toml_table import Table

#: By key, and what a person calls it.
TIMES = {
    "handling": "handling",
    "peel_ply": "peel ply off",
    "cup_reuse": "cup reused",
}


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
