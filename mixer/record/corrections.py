"""What a correction says: which field, what stood there, what is true, and why.

Pure. A fact is never changed: a fact ``corrected`` stands beside it, and the newest one
of a field counts. A note that was added later is told like a correction of nothing. Here
they are read and put into words; what they change in a batch is in
:mod:`mixer.record.views`. A correction of another program may hold anything: it must
never end the reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import field as kept
from decimal import Decimal
from math import isfinite
from typing import Any

from mixer.record import later

#: What a person types beside a batch, by its name in the first fact and in the CSV.
ABOUT = (
    *("operator", "layup", "plies", "resin_lot", "hardener_lot"),
    *("air_c", "resin_c", "surface_c", "rh_pct", "dew_point_c", "dew_margin_c"),
)
#: How the fields that the facts keep in other terms are called in the CSV and by people.
_NAMES = {"left_ug": "left_g", "mixed_utc": "mixed_at"}


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction as stored: ``field`` in the terms of the facts (masses in
    micrograms), with the ``component`` where it is the amount of one. ``follows`` are
    the figures that were decided anew with it, ``stood`` what the facts before it say stood
    there, where it does not tell that itself."""

    field: str
    was: Any
    value: Any
    reason: str
    utc: str
    component: int | None = None
    follows: dict[str, Any] = kept(default_factory=dict)
    stood: Any = None

    @property
    def changes(self) -> dict[str, Any]:
        """All values that are new with it."""
        return {**self.follows, self.field: self.value}


def read(data: dict[str, Any], utc: str) -> Correction | None:
    """The correction in the data of a fact; None where none can be made out.

    >>> read({"field": "air_c", "was": 21, "value": 22, "reason": "misread"}, "").value
    22
    """
    name, reason, component = data.get("field"), data.get("reason"), data.get("component")
    follows = data.get("follows")
    if not isinstance(name, str) or "value" not in data:
        return None
    return Correction(
        field=name,
        was=data.get("was"),
        value=data["value"],
        reason=reason if isinstance(reason, str) else "",
        utc=utc,
        component=component if type(component) is int else None,
        follows=follows if isinstance(follows, dict) else {},
    )


def label(one: Correction, components: Sequence[dict[str, Any]]) -> str:
    """The field by the name of its CSV column, or as a person gives it.

    >>> label(Correction("left_ug", None, 9_000_000, "weighed", ""), [])
    'left_g'
    """
    if one.field == "amount_ug" and one.component is not None:
        return amount_name(one.component, components)
    return _NAMES.get(one.field, one.field)


def amount_name(index: int, components: Sequence[dict[str, Any]]) -> str:
    """How the amount of this component is called: ``resin_g``, ``hardener_g`` or, of
    several hardeners, ``<name>_g``.

    >>> amount_name(1, [{"role": "resin"}, {"role": "hardener", "name": "hardener"}])
    'hardener_g'
    """
    if not 0 <= index < len(components):
        return f"component {index + 1}"
    role, name = components[index].get("role"), components[index].get("name")
    alone = sum(c.get("role") == role for c in components) == 1
    if alone and role in ("resin", "hardener"):
        return f"{role}_g"
    return f"{name if isinstance(name, str) else f'component {index + 1}'}_g"


def told(one: Correction, value: Any) -> str:
    """One of its values, in the terms of its label; "unknown" where it is not known.

    >>> told(Correction("left_ug", None, 9_100_000, "weighed", ""), 9_100_000)
    '9.1'
    """
    if value is None:
        return "unknown"
    if one.field.endswith("_ug") and type(value) is int:
        return grams(value)
    if one.field.startswith("share-") and type(value) is int:
        return f"{grams(value)} g"
    if isinstance(value, list) or (one.field.startswith("wiped-") and type(value) is int):
        return later.told(value)
    if one.field.startswith("thickened-") and isinstance(value, int | float):
        return f"{value / 60:.1f} min after first contact"
    if type(value) is float and isfinite(value):
        return format(Decimal(repr(value)).normalize(), "f")
    return str(value)


def grams(mass_ug: int) -> str:
    """Micrograms as grams, exactly.

    >>> grams(28_800_000), grams(0)
    ('28.8', '0')
    """
    return format(Decimal(mass_ug).scaleb(-6).normalize(), "f")


def line(one: Correction, components: Sequence[dict[str, Any]]) -> str:
    """The correction in one line.

    >>> line(Correction("air_c", 21.5, 22, "misread", "2026-01-02T10:00:00.000Z"), [])
    'air_c: 21.5 -> 22 (misread; 2026-01-02T10:00:00.000Z)'
    """
    because = f"({one.reason}; {one.utc})" if one.reason else f"({one.utc})"
    if one.field == "note":
        return f"note added: {one.value} {because}"
    name = label(one, components)
    return f"{name}: {told(one, one.was)} -> {told(one, one.value)} {because}"
