"""What a figure is: a measured value against its limit, and the table of them all."""

from __future__ import annotations

import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Figure:
    """``note`` says what the value was made of, so that a ratio can be judged."""

    what: str
    value: float
    limit: float
    unit: str
    note: str

    @property
    def held(self) -> bool:
        return self.value <= self.limit

    def row(self) -> tuple[str, ...]:
        held = "held" if self.held else "NOT HELD"
        measured, limit = f"{self.value:.3g} {self.unit}", f"{self.limit:g} {self.unit}"
        return self.what, measured, limit, held, self.note


def percentile(values: Sequence[float], percent: float) -> float:
    """The smallest value that this share of all does not exceed (nearest rank).

    >>> percentile(range(1, 201), 99)
    198
    """
    ranked = sorted(values)
    return ranked[max(0, -(-len(ranked) * percent // 100).__int__() - 1)]


def table(figures: Sequence[Figure]) -> str:
    """As Markdown that can be read as it stands."""
    rows = [("what", "measured", "limit", "", "made of"), *(f.row() for f in figures)]
    wide = [max(len(row[i]) for row in rows) for i in range(5)]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(r, wide, strict=True)) + " |"
             for r in rows]  # fmt: skip
    lines.insert(1, "| " + " | ".join("-" * w for w in wide) + " |")
    return "\n".join(lines)


def machine() -> str:
    """The kind of machine, without its name."""
    model = ""
    for line in Path("/proc/cpuinfo").read_text().splitlines():
        if line.startswith("model name"):
            model = f" ({line.partition(':')[2].strip()})"
            break
    return (f"{os.cpu_count()} cores{model}, {platform.system()} {platform.machine()}, "
            f"Python {platform.python_version()}")  # fmt: skip


def load() -> str:
    """How busy the machine is with all things together, over the last minute."""
    return f"{os.getloadavg()[0]:.1f}"
