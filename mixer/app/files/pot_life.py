"""What a label tells of a pot life: a time, for a mass at a temperature, and its end.

A resin's profile may have it as ``[pot_life]``; a second point at another temperature as
``[pot_life.second]``, and the hottest of the first point's cup as ``peak``. This file
must never fill in what a label does not say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from mixer import units
from mixer.app.files.toml_table import Table


@dataclass(frozen=True, slots=True)
class LabelPoint:
    """One pot life: of this mass, epoxy and room at this temperature."""

    mass_ug: int
    temp_c: float
    time_s: float

    def view(self) -> dict[str, float]:
        """For JSON."""
        return {
            "mass_g": self.mass_ug / 1e6,
            "temperature_c": self.temp_c,
            "time_s": self.time_s,
        }


@dataclass(frozen=True, slots=True)
class PotLife:
    """``ends`` is ``gel``, ``viscosity`` or ``usable``; one point or two."""

    points: tuple[LabelPoint, ...]
    ends: str
    peak_c: float | None

    def view(self) -> dict[str, Any]:
        """For JSON; ``second`` and ``peak_c`` are None where the label has none."""
        first, *more = self.points
        return {
            **first.view(),
            "ends": self.ends,
            "peak_c": self.peak_c,
            "second": more[0].view() if more else None,
        }


def read_pot_life(table: Table) -> PotLife:
    """This ``[pot_life]``. Raises :class:`ProfileError`."""
    first = _point(table)
    ends = table.choice("ends", ("gel", "viscosity", "usable"))
    peak_c = None
    if table.has("peak"):
        peak_c = table.quantity("peak", units.peak_c, -50, 400, "up to 400 degC")
        if peak_c <= first.temp_c:
            accepted = f"a temperature above the {first.temp_c:g} degC at which it was mixed"
            raise table.wrong("peak", table.resolved["peak"], accepted)
    points: tuple[LabelPoint, ...] = (first,)
    if table.has("second"):
        second = table.table("second")
        points = (first, _point(second))
        second.close()
    table.close()
    return PotLife(points, ends, peak_c)


def _point(table: Table) -> LabelPoint:
    return LabelPoint(
        mass_ug=int(table.quantity("mass", units.mass_ug, 1e6, 1e11, "1 g to 100 kg")),
        temp_c=table.quantity("temperature", units.temperature_c, 5, 60, "5 to 60 degC"),
        time_s=table.quantity("time", units.duration_s, 60, 86400, "1 min to 24 h"),
    )
