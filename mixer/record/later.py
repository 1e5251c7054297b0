"""What is found out of a laminate while it cures and after: its temperatures, the hardness
of its witness cup, what an inspection found; and what was wiped or squeegeed off it.

Pure. Each is a fact of the batch that went into it, with a number of its own within its
kind, by which a correction names it. A fact of another program may hold anything: it must
never end the reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, TypeVar

When = TypeVar("When")

#: Their kinds, which are also how a person calls them.
KINDS = ("temperature", "witness", "finding", "wiped")
#: What a finding may be.
FINDINGS = ("inspection", "defect", "repair")
#: How a batch may stand that a laminate can have been made of.
USED = ("live", "closed", "entered")


@dataclass(frozen=True, slots=True)
class Later:
    """One of them as it counts now. ``value``: of a temperature the least and the most in
    degC, of what was wiped off its micrograms, else a text; None where it was taken back.
    ``from_utc`` and ``to_utc`` are the same for what was seen at one moment; ``what`` is one of
    :data:`FINDINGS`, of what was wiped off its layup where that was said, or empty."""

    kind: str
    number: int
    value: Any
    from_utc: str
    to_utc: str
    what: str = ""

    @property
    def name(self) -> str:
        """What a correction calls it.

        >>> Later("temperature", 2, [21, 21], "", "").name
        'temperature-2'
        """
        return f"{self.kind}-{self.number}"

    @property
    def degrees(self) -> tuple[float, float] | None:
        """Least and most in degC, of a temperature that counts."""
        return _degrees(self.value) if self.kind == "temperature" else None


def read(kind: str, data: dict[str, Any]) -> Later | None:
    """The one in the data of a fact of this kind; None where none can be made out.

    >>> utc = "2026-01-02T10:00:00.000Z"
    >>> read("witness", {"number": 1, "value": "hard", "from_utc": utc, "to_utc": utc}).value
    'hard'
    """
    number, value = data.get("number"), data.get("value")
    from_utc, to_utc, what = data.get("from_utc"), data.get("to_utc"), data.get("what")
    if kind == "wiped":
        right = type(value) is int and value >= 0
        kept = what if isinstance(what, str) else ""
    else:
        right = _degrees(value) is not None if kind == "temperature" else isinstance(value, str)
        kept = what if what in FINDINGS else ""
    if kind not in KINDS or type(number) is not int or not right:
        return None
    if not isinstance(from_utc, str) or not isinstance(to_utc, str):
        return None
    return Later(kind, number, value, from_utc, to_utc, kept)


def corrected(known: tuple[Later, ...], field: str, value: Any) -> tuple[Later, ...]:
    """All of them, once a correction of ``field`` says this value.

    >>> (one,) = corrected((Later("witness", 1, "hard", "", ""),), "witness-1", "dents")
    >>> one.value
    'dents'
    """
    return tuple(replace(one, value=value) if one.name == field else one for one in known)


def said_otherwise(
    air: tuple[tuple[When, float | None], ...], thickened: dict[int, float], field: str, value: Any
) -> tuple[tuple[tuple[When, float | None], ...], dict[int, float]]:
    """What was said of the room and of the cups while they lived, once a correction says this:
    ``air-2`` is the second time that the air was told, ``thickened-3`` that cup 3 thickens, which
    can only be taken back.

    >>> said_otherwise((("8:00", 32.0),), {3: 900.0}, "air-1", 22.0)
    ((('8:00', 22.0),), {3: 900.0})
    >>> said_otherwise((), {3: 900.0}, "thickened-3", None)
    ((), {})
    """
    number = isinstance(value, int | float) and not isinstance(value, bool)
    said = tuple(
        (when, (value if number else None) if field == f"air-{place}" else air_c)
        for place, (when, air_c) in enumerate(air, 1)
    )
    gone = {cup for cup in thickened if field == f"thickened-{cup}" and value is None}
    return said, {cup: age_s for cup, age_s in thickened.items() if cup not in gone}


def told(value: Any) -> str:
    """A value in words.

    >>> told([21, 21]), told([12.5, 19]), told("hard"), told(12_300_000), told(None)
    ('21 degC', '12.5 to 19 degC', 'hard', '12.3 g', 'unknown')
    """
    if value is None:
        return "unknown"
    if type(value) is int:
        return f"{value / 1_000_000:.6f}".rstrip("0").rstrip(".") + " g"
    degrees = _degrees(value)
    if degrees is None:
        return str(value)
    least, most = degrees
    return f"{least:g} degC" if least == most else f"{least:g} to {most:g} degC"


def line(one: Later) -> str:
    """One of them in a line.

    >>> line(Later("finding", 1, "a soft spot", "2026-01-02T10:00:00.000Z", "", "defect"))
    'defect: a soft spot (2026-01-02T10:00:00.000Z)'
    """
    until = f" to {one.to_utc}" if one.to_utc > one.from_utc else ""
    what = f"{one.what}: " if one.what else ""
    return f"{what}{told(one.value)} ({one.from_utc}{until})"


def _degrees(value: Any) -> tuple[float, float] | None:
    if not isinstance(value, list) or len(value) != 2:
        return None
    least, most = value
    if any(isinstance(x, bool) or not isinstance(x, int | float) for x in value):
        return None
    return (least, most) if least <= most else None
