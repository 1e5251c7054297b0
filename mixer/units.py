"""Quantities in words become plain numbers here, and nowhere else.

The only file that knows pint. It is loaded late, inside the first call that needs it,
because it costs some three tenths of a second and window and first weight must not wait for
it, and with the few definitions of this bench: pint's own list of all units takes as long
again. The spellings of most profiles need it not at all (``_USUAL``). What a person
typed is never handed to it before a strict pattern has passed it: one number, then
at most three unit words. So no expression is ever evaluated, and nothing typed can
take long or raise anything but :class:`UnitsError`, whose text is one sentence:
what was read, and what would be accepted.

It must never guess: a number without a unit is refused (but for a fraction), and
so are units that mean one thing to the reader and another to a library ("gr").
"""

from __future__ import annotations

import contextlib
import functools
import math
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from mixer.known_units import DEFINITIONS

if TYPE_CHECKING:
    import pint

LONGEST = 40
"""Characters. No quantity that a person means is longer."""

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_WORD = r"[A-Za-zµμ°%]{1,20}(?:(?:\^|\*\*)?[23])?"
_UNIT = rf"{_WORD}(?:\s*[/*· ]\s*{_WORD}){{0,2}}"
_ONLY_NUMBER = re.compile(_NUMBER)
_QUANTITY = re.compile(rf"({_NUMBER})\s*({_UNIT})")
_PERCENT = re.compile(rf"({_NUMBER})\s*%")
_POWER = re.compile(r"(?<=[A-Za-zµμ])(?:\^|\*\*)?([23])")

#: What people write, as pint calls it.
_SPELLINGS = {
    "°C": "degC",
    "°F": "degF",
    "deg C": "degC",
    "deg F": "degF",
    "fl oz": "floz",
    "·": "*",
    "μ": "µ",
}
_SIGNS = str.maketrans("−²³", "-23")

#: A slip that would silently be another unit of the same kind.
_TREACHEROUS = {"gr": "'gr' is the grain (0.065 g) to some and the gram to others"}

_KINDS = {
    "[length]": "a length",
    "[length] ** 2": "an area",
    "[length] ** 3": "a volume",
    "[mass]": "a mass",
    "[time]": "a time",
    "[temperature]": "a temperature",
    "[mass] / [length] ** 3": "a density",
    "[mass] / [length] ** 2": "an areal weight",
    "[mass] / [time]": "a rate",
    "[length] * [mass] / [time] ** 2": "a force",
    "[current] * [time]": "an electric charge",
    "dimensionless": "a bare figure",
}


#: What is believed of a room: beyond, it is a slip such as 72 for degF.
COLDEST_C, WARMEST_C = -10.0, 60.0


class UnitsError(ValueError):
    """One sentence: what was read, and what would be accepted."""


class OutOfSpan(UnitsError):
    """It was read, and is less or more than any such quantity can be here."""


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of quantity: its unit inside, its range there, and how to ask for it."""

    unit: str
    least: float
    most: float
    span: str
    give: str


_MASS = _Kind("µg", 0.0, 1e12, "0 to 1000 kg", "give a mass such as '60 g' or '2 oz'")
_TIME = _Kind("s", 0.0, 366 * 86400.0, "0 to 366 days", "give a time such as '120 s' or '2 min'")
_TEMPERATURE = _Kind(
    "degC", -50.0, 150.0, "-50 to 150 degC", "give a temperature such as '22 degC' or '72 degF'"
)
#: Bounded by :func:`room_c`, which first rounds: one span is told, whatever was typed.
_ROOM = _Kind("degC", -1e9, 1e9, "-10 to 60 degC", "give a temperature such as '22 degC'")
_PEAK = _Kind("degC", -50.0, 400.0, "-50 to 400 degC", "give a temperature such as '160 degC'")
_DENSITY = _Kind(
    "g/mL", 0.01, 30.0, "0.01 to 30 g/mL", "give a density such as '1.13 g/mL' or '9.4 lb/gal'"
)
_VOLUME = _Kind("mL", 0.0, 1e6, "0 to 1000 L", "give a volume such as '300 mL' or '10 floz'")
_LENGTH = _Kind("mm", 0.0, 1e6, "0 to 1000 m", "give a length such as '600 mm' or '24 in'")
_AREA = _Kind("m**2", 0.0, 1e4, "0 to 10000 m2", "give an area such as '0.6 m2' or '6.5 ft2'")
_AREAL = _Kind(
    "g/m**2", 0.0, 1e5, "0 to 100 kg/m2", "give an areal weight such as '300 g/m2' or '9 oz/yd2'"
)
_RATE = _Kind("g/min", 0.0, 1e4, "0 to 10 kg/min", "give a rate such as '10 g/min'")
_FRACTION = "give a fraction such as '55%' or '0.55'"

#: What most profiles are written in, by the unit inside: so many of it are one of these, by
#: definition. No first weight waits for pint to say so; a test holds each to it.
_USUAL = {
    "µg": {"g": 1e6, "kg": 1e9, "oz": 28_349_523.125, "lb": 453_592_370.0},
    "s": {"s": 1.0, "min": 60.0, "h": 3600.0, "day": 86400.0},
    "degC": {"degC": 1.0},
    "g/mL": {"g/mL": 1.0},
    "mL": {"mL": 1.0},
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4},
    "g/m**2": {"g/m**2": 1.0},
}


def mass_ug(text: str, what: str = "mass") -> int:
    """A mass in whole micrograms. ``oz`` and ``lb`` are avoirdupois.

    ``what`` opens the sentence of an error. Zero is a mass; a negative is not.

    >>> mass_ug("60g"), mass_ug("2 oz")
    (60000000, 56699046)
    >>> mass_ug("60 cm", "size")
    Traceback (most recent call last):
    mixer.units.UnitsError: size: '60 cm' is a length; give a mass such as '60 g' or '2 oz'
    """
    return round(_convert(text, what, _MASS))


def duration_s(text: str, what: str = "time") -> float:
    """A time in seconds, not negative.

    >>> duration_s("120s"), duration_s("2 min")
    (120.0, 120.0)
    """
    return _convert(text, what, _TIME)


def temperature_c(text: str, what: str = "temperature") -> float:
    """A temperature in degrees Celsius: a point on the scale, never a difference.

    A bare C or F is what is on every thermometer, and a gloved hand finds no shift key: here it
    is no coulomb and no farad.

    >>> temperature_c("25 degC"), round(temperature_c("72degF"), 2), temperature_c("22 c")
    (25.0, 22.22, 22.0)
    """
    return _convert(_with_degrees(text), what, _TEMPERATURE)


def room_c(text: str, what: str) -> float:
    """The temperature of a room, or of what stands in it: -10 to 60 degC, to a thousandth.

    >>> room_c("72 F", "air")
    22.222
    """
    temp_c = _convert(_with_degrees(text), what, _ROOM)
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise UnitsError(
            f"{what}: {shown(text)} is not within {COLDEST_C:g} to {WARMEST_C:g} degC; give a "
            "temperature such as '22 degC'"
        )
    # 50 degF is 10 degC and no billionth more: no thermometer here has a fourth decimal.
    return round(temp_c, 3)


def peak_c(text: str, what: str = "peak") -> float:
    """The temperature of a cup at its hottest: as :func:`temperature_c`, up to 400 degC.

    >>> peak_c("165 degC"), round(peak_c("320 F"))
    (165.0, 160)
    """
    return _convert(_with_degrees(text), what, _PEAK)


def _with_degrees(text: str) -> str:
    return re.sub(
        r"(?<=[0-9.])(\s*)([CFcf])(\s*)$", lambda at: f"{at[1]}deg{at[2].upper()}{at[3]}", text
    )


def density_g_per_ml(text: str, what: str = "density") -> float:
    """A density in grams per millilitre.

    >>> density_g_per_ml("1.13 g/mL"), round(density_g_per_ml("1130 kg/m3"), 9)
    (1.13, 1.13)
    """
    return _convert(text, what, _DENSITY)


def volume_ml(text: str, what: str = "volume") -> float:
    """A volume in millilitres, not negative. ``floz`` is the US fluid ounce.

    >>> volume_ml("300 mL"), round(volume_ml("10 fl oz"), 1)
    (300.0, 295.7)
    """
    return _convert(text, what, _VOLUME)


def length_mm(text: str, what: str = "length") -> float:
    """A length in millimetres, not negative.

    >>> length_mm("0.6 m"), round(length_mm("3 in"), 1)
    (600.0, 76.2)
    """
    return _convert(text, what, _LENGTH)


def area_m2(text: str, what: str = "area") -> float:
    """An area in square metres, not negative.

    >>> area_m2("0.6 m2"), round(area_m2("1 yd2"), 6)
    (0.6, 0.836127)
    """
    return _convert(text, what, _AREA)


def areal_g_m2(text: str, what: str = "areal weight") -> float:
    """Weight of a cloth by its area, grams per square metre. ``oz`` is avoirdupois.

    >>> areal_g_m2("300 g/m2"), round(areal_g_m2("1 oz/yd2"), 3)
    (300.0, 33.906)
    """
    return _convert(text, what, _AREAL)


def rate_g_min(text: str, what: str = "rate") -> float:
    """How fast epoxy is used up, grams a minute.

    >>> rate_g_min("10 g/min")
    10.0
    """
    return _convert(text, what, _RATE)


def fraction(text: str, what: str = "fraction") -> float:
    """A fraction of the whole, 0 to 1; the one quantity that may stand without a unit.

    A bare number must be under 1, because '1' may mean one per cent or all of it.

    >>> fraction("55%"), fraction("55 %"), fraction("0.55")
    (0.55, 0.55, 0.55)
    """
    text = _tidy(text, what, _FRACTION)
    if match := _PERCENT.fullmatch(text):
        percent = float(match[1])
        if not 0 <= percent <= 100:
            raise OutOfSpan(f"{what}: {shown(text)} is not within 0 % and 100 %; {_FRACTION}")
        # Dividing the written figure rounds once: '55%' is then exactly 0.55.
        return percent / 100
    if _ONLY_NUMBER.fullmatch(text):
        value = float(text)
        if not 0 <= value < 1:
            raise UnitsError(
                f"{what}: {shown(text)} without a % sign is not from 0 to below 1; {_FRACTION}"
            )
        return value + 0.0
    raise UnitsError(f"{what}: {shown(text)} is not a fraction; {_FRACTION}")


def shown(value: object) -> str:
    """What was read, in quotes, printable and short enough for one sentence.

    >>> shown("60 cm")
    "'60 cm'"
    """
    try:
        text = str(value)
    except ValueError:  # Python does not write out a whole number of thousands of digits
        return "a number of very many digits"
    return repr(text if len(text) <= LONGEST else text[:LONGEST] + "…")


def _tidy(text: str, what: str, give: str) -> str:
    # The length first: everything after it may then be as slow as it likes.
    if len(text) > LONGEST:
        raise UnitsError(f"{what}: {shown(text)} is too long; {give}")
    text = text.strip().translate(_SIGNS)
    if not text:
        raise UnitsError(f"{what}: nothing was given; {give}")
    return text


def _convert(text: str, what: str, kind: _Kind) -> float:
    text = _tidy(text, what, kind.give)
    if _ONLY_NUMBER.fullmatch(text):
        raise UnitsError(f"{what}: {shown(text)} has no unit; {kind.give}")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        if re.match(r"[+-]?[0-9]+,[0-9]", text):
            raise UnitsError(
                f"{what}: {shown(text)} has a comma; write a decimal point, and {kind.give}"
            )
        raise UnitsError(f"{what}: {shown(text)} is not a number with a unit; {kind.give}")
    number, unit = float(match[1]), match[2]
    if unit in _TREACHEROUS:
        raise UnitsError(f"{what}: {shown(text)}: {_TREACHEROUS[unit]}; {kind.give}")
    value = _in_unit(number, unit, f"{what}: {shown(text)}", kind)
    if not kind.least <= value <= kind.most:  # false for NaN too
        raise OutOfSpan(f"{what}: {shown(text)} is not within {kind.span}; {kind.give}")
    return value + 0.0  # no negative zero


@functools.lru_cache(maxsize=256)  # a layup has a few units, a thousand times each
def _spelled(unit: str) -> str:
    """As pint calls it."""
    for written, known in _SPELLINGS.items():
        unit = unit.replace(written, known)
    return _POWER.sub(r"**\1", re.sub(r"\s*([/*])\s*", r"\1", unit))


def _in_unit(number: float, unit: str, read: str, kind: _Kind) -> float:
    unit = _spelled(unit)
    usual = _USUAL.get(kind.unit, {}).get(unit)
    if usual is not None:
        return number * usual
    registry = _registry()
    # pint raises errors of many families (AttributeError among them) and more may
    # come with its next release; behind the pattern above each of them means the
    # same to a person: that is no unit.
    try:
        quantity = registry.Quantity(number, registry.parse_units(unit))
        dimension, wanted = _dimension(unit), _dimension(kind.unit)
    except Exception as error:
        raise UnitsError(f"{read}: the unit is not known here; {kind.give}") from error
    if dimension != wanted:
        is_what = _KINDS.get(dimension, f"not {_KINDS[wanted]}")
        raise UnitsError(f"{read} is {is_what}; {kind.give}")
    try:
        value = float(quantity.to(kind.unit).magnitude)
    except Exception as error:
        raise UnitsError(f"{read} cannot be converted; {kind.give}") from error
    return value if math.isfinite(value) else math.nan


@functools.lru_cache(maxsize=256)
def _dimension(unit: str) -> str:
    return str(_registry().parse_units(unit).dimensionality)


@contextlib.contextmanager
def _unseen(*packages: str) -> Iterator[None]:
    """Within, those that are not loaded yet cannot be: pint takes them where it finds them,
    a fifth of the time that it takes to load, and plain figures need neither. Holds for all
    threads meanwhile; none that works at a bench needs them."""
    hidden = [name for name in packages if name not in sys.modules]
    for name in hidden:
        sys.modules[name] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        for name in hidden:
            del sys.modules[name]


def load() -> None:
    """Have pint at hand, so that nothing that is typed later waits for it."""
    _registry()


@functools.cache
def _registry() -> pint.UnitRegistry[float]:
    with _unseen("numpy", "uncertainties"):
        import pint
    known: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    known.load_definitions([line.strip() for line in DEFINITIONS.strip().splitlines()])
    return known
