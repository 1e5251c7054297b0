"""What a person asks for, in their own words, before anything is resolved.

The command line fills one in from its flags, the window from its fields. Every
value is the text as typed; :mod:`mixer.app.resolve` turns it into the terms of a
batch or answers with a sentence.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

TYPED = "typed:"  # the port of a scale with no cable
KIT = "kit"  # the size of a batch that goes by its cloth, scanned or weighed
USUAL_SCALE = "sma"  # the name of its profile


@dataclass(frozen=True, slots=True)
class Request:
    """One batch as asked for. ``None`` is "not said"."""

    resin: str
    size: str
    port: str
    scale: str = USUAL_SCALE
    cup: str | None = None
    hands_free: bool = False
    stir: str | None = None
    air: str | None = None
    resin_temp: str | None = None
    surface: str | None = None
    rh: str | None = None
    operator: str | None = None
    layup: str | None = None
    plies: str | None = None
    resin_lot: str | None = None
    hardener_lot: str | None = None
    left: str | None = None

    def words(self) -> dict[str, Any]:
        """By name, for the record, so that the same can be asked for again; without those
        that it cannot keep."""
        return {
            name: said if not isinstance(said, str) or said.isprintable() else None
            for name, said in asdict(self).items()
        }


def by_kit(request: Request) -> bool:
    """Whether a batch is to be sized by its cloth."""
    return request.size.strip().lower() == KIT


@dataclass(frozen=True, slots=True)
class Choices:
    """What the ready window offers: names only, read without loading any unit library."""

    resins: tuple[str, ...]
    cups: tuple[str, ...]
    scales: tuple[str, ...]
    ports: tuple[str, ...]
