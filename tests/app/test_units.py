"""What a person types becomes a plain number, or one sentence."""

from __future__ import annotations

import contextlib
import math
import re
import subprocess
import sys
import time
from fractions import Fraction

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from devices.readings import UG_PER_UNIT
from mixer import units
from mixer.known_units import DEFINITIONS
from mixer.units import UnitsError

ALL = [
    units.mass_ug,
    units.duration_s,
    units.temperature_c,
    units.density_g_per_ml,
    units.volume_ml,
    units.length_mm,
    units.area_m2,
    units.areal_g_m2,
    units.rate_g_min,
    units.fraction,
]


@pytest.fixture(scope="module", autouse=True)
def _pint_loaded() -> None:
    units.load()  # so that no later timing or deadline includes it


@pytest.fixture(scope="module")
def all_of_pint() -> pint.UnitRegistry:
    """The library's own list of units, which knows a thousand more."""
    return pint.UnitRegistry()


def refusal(read, text: str, *what: str) -> str:
    with pytest.raises(UnitsError) as caught:
        read(text, *what)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.isprintable()
    return sentence


def test_as_many_digits_as_a_drawing_has_are_a_number() -> None:
    assert units.length_mm("84.08661417322836 in") == pytest.approx(2135.8)
    assert units.length_mm(f"0.{'3' * 30} m") == pytest.approx(1000 / 3)
    assert units.fraction("0.30000000000000004") == pytest.approx(0.3)
    assert "is too long" in refusal(units.length_mm, f"0.{'3' * 40} m")


@pytest.mark.parametrize(
    ("text", "expected_ug"),
    [
        ("60g", 60_000_000),
        ("60 g", 60_000_000),
        (" 60  g ", 60_000_000),
        ("0.06 kg", 60_000_000),
        ("500 mg", 500_000),
        ("7 µg", 7),
        ("7 μg", 7),  # the Greek letter, which looks the same as the micro sign
        ("0 g", 0),
        ("60 grams", 60_000_000),
    ],
)
def test_masses(text: str, expected_ug: int) -> None:
    assert units.mass_ug(text) == expected_ug


@given(st.integers(0, 220_000), st.sampled_from(["oz", "lb"]))
def test_ounces_and_pounds_agree_with_their_definition(hundredths: int, unit: str) -> None:
    # International yard and pound agreement, 1959: 1 lb = 453.592 37 g, 1 oz = 1/16 lb.
    exact = Fraction(hundredths, 100) * Fraction(UG_PER_UNIT[unit])
    assert abs(units.mass_ug(f"{hundredths / 100:.2f} {unit}") - exact) <= Fraction(51, 100)


@given(st.integers(0, 10**12))
def test_every_microgram_up_to_a_tonne_survives(mass_ug: int) -> None:
    whole, rest = divmod(mass_ug, 10**6)
    assert units.mass_ug(f"{whole}.{rest:06d} g") == mass_ug


def test_ounce_per_square_yard(all_of_pint: pint.UnitRegistry) -> None:
    # 33.906 g/m2: definition of the avoirdupois ounce and the yard (0.9144 m).
    by_pint = all_of_pint.Quantity("1 oz/yd**2").to("g/m**2").magnitude
    assert by_pint == pytest.approx(33.906, abs=5e-4)
    assert by_pint == pytest.approx(453.59237 / 16 / 0.9144**2, rel=1e-12)
    assert units.areal_g_m2("1 oz/yd2") == pytest.approx(by_pint, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "expected_c"),
    [
        ("25 degC", 25.0),
        ("22degC", 22.0),
        ("22 °C", 22.0),
        ("22 deg C", 22.0),
        ("−5 °C", -5.0),
        ("32 degF", 0.0),  # fixed points of the two scales, by their definition
        ("212 degF", 100.0),
        ("-40 degF", -40.0),
        ("72degF", (72 - 32) * 5 / 9),
        ("273.15 K", 0.0),
    ],
)
def test_a_temperature_is_a_point_not_a_difference(text: str, expected_c: float) -> None:
    assert units.temperature_c(text) == pytest.approx(expected_c, abs=1e-9)


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (units.duration_s, "120s", 120.0),
        (units.duration_s, "2 min", 120.0),
        (units.duration_s, "1.5 h", 5400.0),
        (units.density_g_per_ml, "1.13 g/mL", 1.13),
        (units.density_g_per_ml, "1.13 g/ml", 1.13),
        (units.density_g_per_ml, "1.13 g/cm³", 1.13),
        (units.density_g_per_ml, "1130 kg/m^3", 1.13),
        # 1 US gallon = 231 cubic inches of 2.54 cm each, by definition.
        (units.density_g_per_ml, "9.4 lb/gal", 9.4 * 453.59237 / (231 * 2.54**3)),
        (units.volume_ml, "300 mL", 300.0),
        (units.volume_ml, "0.3 L", 300.0),
        (units.volume_ml, "10 fl oz", 10 * 231 * 2.54**3 / 128),
        (units.fraction, "55%", 0.55),
        (units.fraction, "55 %", 0.55),
        (units.fraction, "0.55", 0.55),
        (units.fraction, ".5", 0.5),
        (units.fraction, "100 %", 1.0),
        (units.length_mm, "12 mm", 12),
        (units.length_mm, "0.5 in", 12.7),  # an inch is 25.4 mm by definition
        (units.fraction, "0", 0.0),
    ],
)
def test_other_quantities(read, text: str, expected: float) -> None:
    assert read(text) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("read", "text", "says"),
    [
        (units.mass_ug, "60 cm", "'60 cm' is a length"),
        (units.mass_ug, "60", "has no unit"),
        (units.mass_ug, "", "nothing was given"),
        (units.mass_ug, "   ", "nothing was given"),
        (units.mass_ug, "sixty grams", "is not a number with a unit"),
        (units.mass_ug, "1,5 g", "decimal point"),
        (units.mass_ug, "60 mL", "is a volume"),
        (units.mass_ug, "60 gr", "grain"),
        (units.mass_ug, "60 spoons", "not known"),
        (units.mass_ug, "-5 g", "is not within 0 to 1000 kg"),
        (units.mass_ug, "1001 kg", "is not within 0 to 1000 kg"),
        (units.mass_ug, "9e99 kg", "is not within"),
        (units.mass_ug, "nan g", "is not a number with a unit"),
        (units.mass_ug, "inf g", "is not a number with a unit"),
        (units.mass_ug, "0x40 g", "is not a number with a unit"),
        (units.mass_ug, "1_000 g", "is not a number with a unit"),
        (units.mass_ug, "２０ g", "is not a number with a unit"),
        (units.duration_s, "2 m", "is a length"),
        (units.length_mm, "2 s", "is a time"),
        (units.length_mm, "12", "has no unit"),
        (units.length_mm, "-1 mm", "is not within 0 to 1000 m"),
        (units.duration_s, "-1 s", "is not within"),
        (units.temperature_c, "22", "has no unit"),
        (units.mass_ug, "22 C", "is an electric charge"),
        (units.temperature_c, "22 delta_degC", "is not a number with a unit"),
        (units.temperature_c, "5 K/min", "is not a temperature"),
        (units.temperature_c, "-300 degC", "is not within -50 to 150 degC"),
        *(
            (units.room_c, f"{c} degC", "is not within -10 to 60 degC")
            for c in (-300, 70, 200, 9999)
        ),
        (units.density_g_per_ml, "1.13", "has no unit"),
        (units.density_g_per_ml, "1.13 g", "is a mass"),
        (units.volume_ml, "10 oz", "is a mass"),
        (units.length_mm, "3 m2", "is an area"),
        (units.area_m2, "0.6 m", "is a length"),
        (units.area_m2, "0.6", "has no unit"),
        (units.areal_g_m2, "9 oz", "is a mass"),
        (units.areal_g_m2, "300 g/m3", "is a density"),
        (units.rate_g_min, "10 g", "is a mass"),
        (units.fraction, "55", "without a % sign"),
        (units.fraction, "1", "without a % sign"),
        (units.fraction, "101%", "is not within 0 % and 100 %"),
        (units.fraction, "-0.1", "is not from 0"),
        (units.fraction, "0.5 g", "is not a fraction"),
    ],
)
def test_what_is_refused_says_what_was_read_and_what_is_accepted(
    read, text: str, says: str
) -> None:
    sentence = refusal(read, text, "given")
    assert sentence.startswith("given: ")
    assert says in sentence
    assert "; " in sentence
    assert " such as '" in sentence


@pytest.mark.parametrize(
    "text",
    [
        "2**99999 g",
        "2**99999**9 g",
        "9" * 30 + "**" + "9" * 5 + " g",
        "__import__('os').abort()",
        "(" * 20 + "1 g" + ")" * 20,
        "(" * 100_000,
        "1 " + "kilo" * 100_000 + "g",
        "1 g" + "/g" * 100_000,
        "1 g/g/g/g/g/g",
        "9" * 100_000 + " g",
        "1 g**9999999",
        "1 g^(2)",
        "1 g\x00",
        "1 g\nkg",
        "\ud800 g",
        "1 g if True else 2 g",
    ],
)
@pytest.mark.parametrize("read", ALL)
def test_expressions_and_tricks_are_refused_at_once(read, text: str) -> None:
    began = time.process_time()
    refusal(read, text)
    # Milliseconds in truth; a second still tells it from an evaluated power tower.
    assert time.process_time() - began < 1


QUANTITY_LIKE = st.builds(
    "{}{}{}".format,
    st.one_of(st.floats().map(repr), st.integers().map(str), st.sampled_from(["", "1e", "1e99"])),
    st.sampled_from(["", " ", "  ", "\t", "*", "\n"]),
    st.text(alphabet="gGkKmMsSchCFLldeµμ°%oznbu2 3/*·^_()-", max_size=12),
)


@given(st.sampled_from(ALL), st.one_of(st.text(max_size=60), QUANTITY_LIKE))
@example(units.mass_ug, "1 degC/degC")
@example(units.temperature_c, "1e99 degF")
@example(units.mass_ug, "1 dB g")
def test_never_anything_but_a_number_or_the_one_error(read, text: str) -> None:
    try:
        value = read(text)
    except UnitsError:
        refusal(read, text)
    else:
        assert math.isfinite(value)
        assert value >= 0 or read is units.temperature_c


#: Every name and sign that is known here.
NAMES = [
    name.strip()
    for line in DEFINITIONS.strip().splitlines()
    for i, name in enumerate(line.split("="))
    if i != 1  # the definition itself
]
READS = {
    units.mass_ug: "µg",
    units.duration_s: "s",
    units.temperature_c: "degC",
    units.density_g_per_ml: "g/mL",
    units.volume_ml: "mL",
    units.length_mm: "mm",
    units.area_m2: "m**2",
    units.areal_g_m2: "g/m**2",
    units.rate_g_min: "g/min",
}


def same_to_both(name: str, all_of_pint: pint.UnitRegistry) -> None:
    ours = units._registry()
    here = ours.Quantity(2.5, ours.parse_units(name)).to_root_units()
    theirs = all_of_pint.Quantity(2.5, all_of_pint.parse_units(name)).to_root_units()
    assert str(here.units) == str(theirs.units)
    assert here.magnitude == pytest.approx(theirs.magnitude, rel=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_every_unit_known_here_is_that_of_pint(name: str, all_of_pint: pint.UnitRegistry) -> None:
    same_to_both(name, all_of_pint)
    with contextlib.suppress(pint.UndefinedUnitError):  # one letter has no plural: "gs"
        same_to_both(name + "s", all_of_pint)


WORDS = st.one_of(
    st.sampled_from(NAMES),
    st.builds("{}{}".format, st.sampled_from("dcmµuk"), st.sampled_from(NAMES)),
    st.text("gkmscCFKLldeoznbut", min_size=1, max_size=4),
)
UNITS = st.one_of(
    WORDS,
    st.builds("{}/{}".format, WORDS, WORDS),
    st.builds("{}/{}3".format, WORDS, WORDS),
    st.builds("{}/{}2".format, WORDS, WORDS),
)


@example(units.length_mm, 100, "cms")
@example(units.temperature_c, 2200, "C")
@example(units.temperature_c, 7200, "F")
@example(units.temperature_c, 2200, "c")
@given(st.sampled_from(list(READS)), st.integers(0, 10_000), UNITS)
def test_what_is_accepted_is_what_pint_with_all_its_units_makes_of_it(
    all_of_pint: pint.UnitRegistry, read, hundredths: int, unit: str
) -> None:
    number = hundredths / 100
    try:
        value = read(f"{number:.2f} {unit}")
    except UnitsError:
        return
    if read is units.temperature_c and unit.upper() in ("C", "F"):
        unit = f"deg{unit.upper()}"  # on a thermometer it is no coulomb and no farad
    unit = re.sub("([23])", r"**\1", unit)
    try:
        known = all_of_pint.parse_units(unit)
    except pint.UndefinedUnitError:  # it knows no plural of a short name with a prefix: "cms"
        known = all_of_pint.parse_units(re.sub(r"s\b", "", unit))
    theirs = all_of_pint.Quantity(number, known)
    expected = theirs.to(READS[read]).magnitude
    # A mass is rounded to whole micrograms.
    assert value == pytest.approx(expected, rel=1e-12, abs=0.51 if read is units.mass_ug else 1e-9)


USUAL = [(inside, unit) for inside, units_ in units._USUAL.items() for unit in units_]


@given(st.sampled_from(USUAL), st.integers(0, 10**9))
def test_a_usual_spelling_is_what_pint_makes_of_it(
    all_of_pint: pint.UnitRegistry, usual: tuple[str, str], thousandths: int
) -> None:
    inside, unit = usual
    theirs = all_of_pint.Quantity(thousandths / 1000, all_of_pint.parse_units(unit)).to(inside)
    ours = thousandths / 1000 * units._USUAL[inside][unit]
    assert ours == pytest.approx(theirs.magnitude, rel=1e-14, abs=1e-9)


def runs(code: str) -> None:
    """In an interpreter of its own, that has loaded nothing yet."""
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_pint_is_loaded_by_what_is_not_usual_alone() -> None:
    code = (
        "import sys; import mixer.units as u; u.fraction('55%'); u.mass_ug('1 g')\n"
        "assert not {'pint', 'numpy'} & set(sys.modules)\n"
        "u.mass_ug('1 mg'); assert 'pint' in sys.modules"
    )
    runs(code)


def test_no_first_weight_waits_for_pint() -> None:
    """What a batch of a shipped resin is made of is read without it."""
    code = (
        "import sys; from mixer.app.files.profiles import names\n"
        "from mixer.app.request import Request; from mixer.app.resolve import resolve\n"
        "for resin in names('resins'):\n"
        "    for scale in ('sma', 'sma-fine'):\n"
        "        resolve(Request(resin, '60g', 'sim:', scale=scale, cup='paper-150', air='22C'))\n"
        "assert 'pint' not in sys.modules"
    )
    runs(code)


def test_reading_a_quantity_loads_nothing_that_only_arrays_need() -> None:
    """And leaves them to be loaded by whoever needs them."""
    told = (
        "import sys; from mixer.units import mass_ug; mass_ug('60 mg'); "
        "assert not {'numpy', 'uncertainties'} & set(sys.modules); import numpy"
    )
    runs(told)
