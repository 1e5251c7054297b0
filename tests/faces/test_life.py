"""``cupside life``: what a label's pot life makes of another cup."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.app.files.profiles import load_resin
from mixer.app.life.life import FIRST, HOT, MIDDLE, RULE, Asked, answer, lines
from mixer.app.life.life_words import COOLER, HARDLY, MUCH_HEAT, STEEP
from mixer.cli import main

SAMPLE = (Path(__file__).parents[2] / "profiles/resins/sample-36.toml").read_text("utf-8")
FIGURES = ("working_min", "gel_min", "peak_c", "peak_min", "runaway", "range_min")


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["life", *words, "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return json.loads(told.out)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["life", *words]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    return told.err


def written(tmp_path: Path, old: str, new: str) -> str:
    assert old in SAMPLE
    path = tmp_path / "mine.toml"
    path.write_text(SAMPLE.replace(old, new, 1), "utf-8")
    return str(path)


def test_it_agrees_with_the_label(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "--resin", "sample-36", "--mass", "100g", "--air", "25degC")
    assert found["gel_min"] == 25.0
    low, high = found["range_min"]
    assert low < found["working_min"] < high
    assert found["working_min"] < found["gel_min"]
    assert found["peak_min"] > found["gel_min"]
    assert found["runaway"] is True
    assert found["peak_c"] > 100


@pytest.mark.parametrize(
    ("resin", "minutes"), [("sample-28", 55.0), ("sample-blend", 35.0), ("sample-tinted", None)]
)
def test_every_shipped_label_is_met(resin: str, minutes: float | None) -> None:
    found = answer(Asked(resin, "100 g"))
    if minutes is None:
        assert found["gel_min"] == 25.0
    else:
        assert found["working_min"] == minutes
    assert any("data sheet comes first" in note for note in found["notes"])


def test_a_second_point_is_met_too() -> None:
    found = answer(Asked("sample-28", "100 g", air="15 degC"))
    assert found["working_min"] == pytest.approx(120, abs=1)


def test_a_peak_on_the_label_is_met() -> None:
    assert answer(Asked("sample-blend", "100 g"))["peak_c"] == pytest.approx(160, abs=2)


def test_room_and_resin_are_apart() -> None:
    warm = answer(Asked("sample-36", "60 g", "18 degC", "26 degC"))
    cool = answer(Asked("sample-36", "60 g", "18 degC"))
    assert (warm["air_c"], warm["start_c"]) == (18, 26)
    assert (cool["air_c"], cool["start_c"]) == (18, 18)
    assert warm["working_min"] < cool["working_min"]


@pytest.mark.parametrize("words", [["--lasting", "1 min"], ["--lasting", "24 h"]])
def test_the_ends_of_a_range_belong_to_it(
    capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    found = asked(capsys, "--resin", "sample-28", "--mass", "20g", "--air", "20degC", *words)
    pair = found["largest"]["lasting_g"]
    assert (pair["about"] is None) == (words[1] == "24 h")


def test_where_it_is_less_sure_it_says_so() -> None:
    starts = ("25 C", "20 C", "15 C", "12 C")
    told = [answer(Asked("sample-28", "90 g", "15 degC", start)) for start in starts]
    assert [COOLER in found["notes"] for found in told] == [True, True, False, False]


@pytest.mark.parametrize(("ahew", "gels"), [(68.4, True), (24, True), (22, False), (210, False)])
def test_of_a_ratio_that_would_not_gel_it_says_so(tmp_path: Path, ahew: float, gels: bool) -> None:
    """With amine for three times the epoxide, or for a third of it, no network is endless."""
    found = answer(Asked(written(tmp_path, "ahew = 68.4", f"ahew = {ahew}"), "100 g"))
    said = [note for note in found["notes"] if "would not gel at all" in note]
    assert len(said) == (not gels)
    assert gels or f"{190 * 0.36 / ahew:.2f} amine hydrogens for each epoxide" in said[0]


@pytest.mark.parametrize(
    ("parts", "gels", "says"),
    [
        (36, True, None),
        (25, True, "0.69 amine hydrogens for each epoxide; compare parts and weights"),
        (21, True, "0.58 amine hydrogens for each epoxide; compare parts and weights"),
        (20, False, "0.56 amine hydrogens for each epoxide: less of it can react than a gel"),
        (15, False, "0.42 amine hydrogens for each epoxide: less of it can react than a gel"),
        (100, True, "2.78 amine hydrogens for each epoxide; compare parts and weights"),
    ],
)
def test_no_gel_is_told_beyond_what_can_react(
    tmp_path: Path, parts: float, gels: bool, says: str | None
) -> None:
    """A gel is reckoned at 0.577 of the epoxide; each amine hydrogen takes one."""
    found = answer(Asked(written(tmp_path, "parts = 36", f"parts = {parts}"), "100 g"))
    assert (found["gel_min"] is not None) == gels
    notes = [note for note in found["notes"] if "amine hydrogens" in note]
    assert len(notes) == (says is not None)
    assert says is None or says in notes[0]
    assert not any("gel within a week" in note for note in found["notes"])


def test_of_much_heat_it_says_that_the_gel_may_be_sooner(tmp_path: Path) -> None:
    much = written(tmp_path, "ahew = 68.4", "ahew = 24.4")
    hot = Path(much).read_text("utf-8").replace("parts = 36", "parts = 12.84")
    Path(much).write_text(hot, "utf-8")
    note = MUCH_HEAT.format(heat=466)
    assert note in answer(Asked(much, "100 g"))["notes"]
    assert note not in answer(Asked(much, "10 g", "10 degC", shape="film"))["notes"]
    hotter = Path(much).read_text("utf-8").replace("eew = 190", "eew = 140")
    Path(much).write_text(hotter.replace("12.84", "17.43"), "utf-8")
    found = answer(Asked(much, "100 g"))
    assert found["gel_min"] is None
    assert (
        "No figure: the model was checked for 150 to 540 J/g of reaction heat, and by its "
        "equivalent weights this epoxy has 608 J/g." in found["notes"]
    )
    usual = answer(Asked("sample-36", "90 g"))
    assert usual["may_run_away"]
    assert not any("gives off much heat" in said for said in usual["notes"])


@pytest.mark.parametrize(
    ("minutes", "ends", "large", "later", "note"),
    [
        (90, "viscosity", 100, 221, STEEP.format(found=2.3)),
        (174, "usable", 200, 240, HARDLY),  # of masses so unlike that heat tells of them too
    ],
)
def test_of_two_points_it_says_where_its_times_are_not_within_a_tenth(
    tmp_path: Path, minutes: int, ends: str, large: int, later: int, note: str
) -> None:
    first = f'mass = "20 g"\ntemperature = "30 degC"\ntime = "{minutes} min"\nends = "{ends}"\n'
    second = f'mass = "{large} g"\ntemperature = "20 degC"\ntime = "{later} min"\n'
    text = Path(written(tmp_path, "[pot_life]", "[pot_life]")).read_text("utf-8")
    start, end = text.index("[pot_life]\n"), text.index('ends = "gel"\n') + len('ends = "gel"\n')
    mine = tmp_path / "two.toml"
    label = f"[pot_life]\n{first}[pot_life.second]\n{second}"
    mine.write_text(text[:start] + label + text[end:], "utf-8")
    assert note in answer(Asked(str(mine), "460 g", "16.6 degC"))["notes"]


@pytest.mark.parametrize(
    ("mass", "air", "tray"),
    [("40 g", "22 degC", True), ("60 g", "25 degC", True), ("100 g", "10 degC", False)],
)
def test_what_may_run_away_by_what_is_doubted_is_told(mass: str, air: str, tray: bool) -> None:
    found = answer(Asked("sample-28", mass, air))
    told, shape = lines(found), found["tray"]
    may = f"By what is doubted it may run away all the same, up to {found['hottest_c']} degC"
    assert found["may_run_away"] is True
    assert any(note.startswith(may) for note in told) == (not found["runaway"])
    assert any(f", up to {found['hottest_c']} degC by what is doubted" in line for line in told)
    assert (shape["runaway"], shape["may_run_away"]) == (False, tray)
    assert any("In a tray it may run away too" in note for note in told) == tray
    bare = [line for line in told if line.endswith("it does not run away")]
    assert bool(bare) != tray


@pytest.mark.parametrize(("cold", "figure"), [("130 min", True), ("150 min", False)])
def test_a_label_that_is_steeper_than_was_checked_has_no_figure(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, cold: str, figure: bool
) -> None:
    second = '[pot_life.second]\nmass = "100 g"\ntemperature = "15 degC"\n'
    mine = written(
        tmp_path,
        'time = "25 min"\nends = "gel"\n',
        f'time = "30 min"\nends = "gel"\n{second}time = "{cold}"\n',
    )
    found = asked(capsys, "--resin", mine, "--mass", "60g", "--air", "20 degC")
    assert (found["gel_min"] is not None) == figure
    assert (found["range_min"] is not None) == figure
    said = " ".join(found["notes"])
    assert ("No figure: the model was checked for epoxy that is 1.6 to 2.9 times" in said) != figure
    assert (STEEP.format(found=2.9) in said) == figure


def test_a_cup_of_its_own(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--resin", "sample-28", "--mass", "90g", "--air", "20 C", "--cup"]
    small, large = (asked(capsys, *words, cup) for cup in ("paper-150", "plastic-500"))
    assert (small["cup"], large["cup"]) == ("paper-150", "plastic-500")
    assert small["working_min"] < large["working_min"]
    assert not any("No cup" in note for note in small["notes"])


@pytest.mark.parametrize(
    ("old", "new", "gel_min"),
    [("eew = 190", "eew = 380", 25.0), ("ahew = 68.4", "ahew = 136.8", None)],
)
def test_equivalent_weights_tell_the_heat(
    tmp_path: Path, old: str, new: str, gel_min: float | None
) -> None:
    # Half as much that can react in a gram, of whichever there is less: half the heat.
    half = answer(Asked(written(tmp_path, old, new), "100 g"))
    assert half["gel_min"] == gel_min  # half of the epoxide is less than a gel takes
    assert half["peak_c"] < answer(Asked("sample-36", "100 g"))["peak_c"] - 40


def test_without_equivalent_weights_the_heat_is_a_usual_one(tmp_path: Path) -> None:
    usual = answer(Asked(written(tmp_path, "eew = 190\n", ""), "100 g"))
    # EEW 190 with 36 phr is what the usual heat was reckoned from.
    assert usual["peak_c"] == pytest.approx(answer(Asked("sample-36", "100 g"))["peak_c"], abs=5)


def test_the_cautions_are_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["life", "--resin", "sample-36", "--mass", "100g"]) == 0
    told = capsys.readouterr().out
    for words in (FIRST, MIDDLE, HOT, "The label: 25 min for 100 g at 25 degC, until it gels."):
        assert words in told
    assert "No temperature was given: the label's 25 degC." in told
    assert "It runs away" in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--mass", "2 kg", "--air", "25 degC"], "checked for 5 to 500 g"),
        (["--mass", "2 g", "--air", "25 degC"], "checked for 5 to 500 g"),
        (["--mass", "100 g", "--air", "5 degC"], "checked for 10 to 40 degC"),
        (["--mass", "100 g", "--air", "-10 degC"], "checked for 10 to 40 degC"),
        (["--mass", "100 g", "--air", "15 degC", "--start", "40 degC"], "within 10 degC"),
    ],
)
def test_where_it_was_not_checked_it_says_so_instead_of_a_number(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    found = asked(capsys, "--resin", "sample-36", *words)
    assert [found[name] for name in FIGURES] == [None] * len(FIGURES)
    assert any(said in note for note in found["notes"])
    assert {HOT, RULE} <= set(found["notes"])
    assert main(["life", "--resin", "sample-36", *words]) == 0
    out = capsys.readouterr().out
    assert not any(f"\n  {name}" in out for name in ("working time", "gel", "hottest"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--mass", "0g"], "mass: '0g' is nothing"),
        (["--mass", "-5g"], "mass: '-5g' is not within"),
        (["--mass", "100"], "mass: '100' has no unit"),
        (["--mass", "100 cm"], "is a length"),
        (["--mass", "99 g", "--cup", "paper-150"], "give up to 98.9 g"),
        (["--mass", "60 g", "--cup", "mug"], "'mug' is no cup"),
        (["--mass", "60 g", "--air", "60.1 degC"], "air: '60.1 degC' is not within -10 to 60"),
        (["--mass", "60 g", "--air", "-11 degC"], "air: '-11 degC' is not within -10 to 60"),
        (["--mass", "60 g", "--start", "70 C"], "start: '70 C' is not within -10 to 60"),
        (["--mass", "60 g", "--air", "warm"], "air: 'warm' is not a number"),
    ],
)
def test_wrong_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert said in refused(capsys, "--resin", "sample-36", *words)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('mass = "100 g"\n', "", "pot_life.mass: is missing"),
        ('temperature = "25 degC"\n', "", "pot_life.temperature: is missing"),
        (
            'ends = "gel"\n',
            'ends = "gel"\n[pot_life.second]\nmass = "100 g"\ntemperature = "15 degC"\n'
            'time = "20 min"\n',
            "contradict each other",
        ),
        (
            'ends = "gel"\n',
            'ends = "gel"\n[pot_life.second]\nmass = "100 g"\ntemperature = "25 degC"\n'
            'time = "20 min"\n',
            "tell no activation energy",
        ),
        ('ends = "gel"\n', 'ends = "gel"\npeak = "390 degC"\n', "a peak of 390 degC"),
    ],
)
def test_a_label_that_is_none_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, old: str, new: str, said: str
) -> None:
    mine = written(tmp_path, old, new)
    told = refused(capsys, "--resin", mine, "--mass", "60g")
    assert said in told
    assert "mine.toml" in told


def test_a_resin_without_a_pot_life_has_none(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    start, end = SAMPLE.index("[pot_life]"), SAMPLE.index("[room]")
    mine = written(tmp_path, SAMPLE[start:end], "")
    assert load_resin(mine).pot_life is None
    assert "has no pot life in its profile" in refused(capsys, "--resin", mine, "--mass", "60g")


def test_the_largest_masses_and_what_a_tray_would_buy(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--resin", "sample-28", "--mass", "100g", "--air", "20degC", "--lasting", "70min"]
    found = asked(capsys, *words)
    largest, tray = found["largest"], found["tray"]
    assert largest["lasting_min"] == 70
    for name in ("lasting_g", "calm_g"):
        assert 5 <= largest[name]["sure"] < largest[name]["about"] < 500
        assert largest[name]["open"] is False
    # What it says of the largest is what it says when it is asked for it.
    lasting = asked(capsys, *words[:3], f"{largest['lasting_g']['about']}g", *words[4:])
    assert 70 <= lasting["working_min"] < 72
    calm = asked(capsys, *words[:3], f"{largest['calm_g']['about']}g", *words[4:])
    assert (found["runaway"], calm["runaway"], tray["runaway"]) == (True, False, False)
    assert tray["working_min"] > found["working_min"]
    assert tray["peak_c"] < found["peak_c"] - 40
    assert main(["life", *words]) == 0
    told = capsys.readouterr().out
    assert f"lasts 70 min  up to about {largest['lasting_g']['about']:g} g (to be sure: " in told
    assert "stays calm    up to about " in told
    assert "in a tray     10 mm deep: working time about " in told


def test_what_is_said_of_a_long_time_is_apart_from_it(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--resin", "sample-36", "--mass", "100g", "--air", "25degC", "--lasting", "300min"]
    assert main(["life", *words]) == 0
    assert "  lasts 5 h 0 min not even the smallest" in capsys.readouterr().out


def test_a_film_has_no_hot_middle(capsys: pytest.CaptureFixture[str]) -> None:
    usual = ["--resin", "sample-36", "--mass", "100g", "--air", "25degC"]
    notes = {
        shape: asked(capsys, *usual, "--shape", shape)["notes"] for shape in ("cup", "tray", "film")
    }
    assert [MIDDLE in notes[shape] for shape in notes] == [True, True, False]


def test_a_cup_bounds_the_largest(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--mass", "50g", "--cup", "paper-150", "--air", "15 C", "--lasting", "10min"]
    largest = asked(capsys, "--resin", "sample-28", *words)["largest"]
    assert largest["lasting_g"]["open"] is True
    assert largest["lasting_g"]["about"] == 100  # 90 mL of it
    assert main(["life", "--resin", "sample-28", *words]) == 0
    assert "100 g, and no larger one was looked at" in capsys.readouterr().out


def test_where_only_the_epoxy_is_told_the_room_is_the_labels(
    capsys: pytest.CaptureFixture[str],
) -> None:
    notes = asked(capsys, "--resin", "sample-28", "--mass", "100g", "--start", "33degC")["notes"]
    assert "No temperature of the room was given: the label's 25 degC." in notes


def test_a_stack_on_foam_is_told_when_its_foam_softens(
    capsys: pytest.CaptureFixture[str],
) -> None:
    stack = ["--mass", "300g", "--shape", "stack", "--depth"]
    seen = {}
    for depth, share in (("4mm", "40%"), ("10mm", "40%"), ("0.5in", "90%")):
        found = asked(capsys, "--resin", "sample-28", *stack, depth, "--share", share)
        foam = found["foam"]
        assert foam["softens_c"] == 60
        assert found["peak_c"] <= foam["peak_c"] <= foam["hottest_c"]
        seen[depth] = (foam["softens"], any("lay it thinner" in n for n in found["notes"]))
        thickest = found["largest"]["thickest_mm"]
        assert found["tray"] is None
        assert thickest["sure"] is None or thickest["sure"] < thickest["about"]
    assert seen == {"4mm": (False, False), "10mm": (None, True), "0.5in": (True, True)}
    bears = asked(capsys, "--resin", "sample-28", *stack, "10mm", "--softens", "140degC")
    assert bears["foam"]["softens"] is False
    assert main(["life", "--resin", "sample-28", *stack, "12mm"]) == 0
    told = capsys.readouterr().out
    assert "in a stack of 12 mm on foam, 40% of its weight" in told
    assert "softens at 60 degC" in told
    assert "spares foam   up to about " in told
    assert "its data sheet comes first" in told


@pytest.mark.parametrize(
    ("words", "deep"),
    [(["--shape", "tray"], 10), (["--shape", "tray", "--depth", "5 mm"], 5),
     (["--shape", "film"], 0.5)],
)  # fmt: skip
def test_a_tray_and_a_film_live_longer_than_a_cup(
    capsys: pytest.CaptureFixture[str], words: list[str], deep: float
) -> None:
    usual = ["--resin", "sample-28", "--mass", "200g", "--air", "22degC"]
    cup, shape = asked(capsys, *usual), asked(capsys, *usual, *words)
    assert shape["depth_mm"] == deep
    assert shape["working_min"] > cup["working_min"]
    assert shape["peak_c"] < cup["peak_c"]
    assert (shape["foam"], shape["tray"]) == (None, None)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--shape", "tray", "--depth", "20mm"], "checked for 3 to 15 mm of a tray"),
        (["--shape", "film", "--depth", "5mm"], "checked for 0.1 to 3 mm of a film"),
        (["--shape", "stack", "--depth", "2in"], "checked for 3 to 30 mm of a stack"),
        (
            ["--shape", "stack", "--depth", "12mm", "--share", "9.9%"],
            "checked for 10 to 100 % of a stack's weight that is epoxy",
        ),
        (["--cup", "HUGE"], "checked for 5 to 10000 mL of a cup"),
    ],
)
def test_a_shape_that_was_not_checked_has_no_figure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    huge = tmp_path / "huge.toml"
    cup = (Path(__file__).parents[2] / "profiles/cups/paper-150.toml").read_text("utf-8")
    huge.write_text(cup.replace('volume = "150 mL"', 'volume = "10.1 L"'), "utf-8")
    words = [str(huge) if word == "HUGE" else word for word in words]
    found = asked(capsys, "--resin", "sample-36", "--mass", "100g", *words)
    assert [found[name] for name in (*FIGURES, "tray", "foam")] == [None] * 8
    assert bool(found["largest"]) == ("2in" in words)  # how thin would do is known all the same
    assert any(said in note for note in found["notes"])
    assert MIDDLE not in found["notes"]  # no time stands there


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--depth", "31mm"], "The foam softens under 300 g of it 30 mm thick at 25 degC already"),
        (["--depth", "30mm", "--mass", "3kg"], "under 2000 g of it 30 mm thick at 25 degC already"),
        (["--depth", "20mm", "--air", "41degC"], "under 300 g of it 20 mm thick at 40 degC alread"),
        (
            ["--depth", "25mm", "--air", "22degC", "--start", "35degC"],
            "The foam softens under 300 g of it 25 mm thick at 22 degC already",
        ),
        (["--depth", "4mm", "--air", "9degC"], "Whether the foam under it softens is not known"),
        (["--depth", "3mm", "--mass", "3kg", "--softens", "140degC"], "is not known here: lay it"),
    ],
)
def test_a_stack_that_was_not_checked_is_warned_of_all_the_same(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    found = asked(capsys, "--resin", "sample-36", "--shape", "stack", "--mass", "300g", *words)
    assert found["foam"] is None
    assert any(said in note for note in found["notes"])


def test_what_was_said_of_a_stack_is_not_told_as_common_practice(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ["--resin", "sample-36", "--shape", "stack", "--mass", "300g", "--depth", "10mm"]
    usual = asked(capsys, *words)["notes"]
    said = asked(capsys, *words, "--softens", "60degC", "--share", "40%")["notes"]
    of_stack = [note for note in usual if note.startswith(("Foam that softens at", "A stack of"))]
    assert len(of_stack) == 2
    assert said == [note for note in usual if note not in of_stack]


def test_how_thin_spares_the_foam_is_told_beside_a_stack_that_is_too_thick(
    capsys: pytest.CaptureFixture[str],
) -> None:
    stack = ["--resin", "sample-36", "--shape", "stack", "--mass", "300g", "--depth"]
    assert asked(capsys, *stack, "31mm")["largest"] == asked(capsys, *stack, "30mm")["largest"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--shape", "bucket"], "shape: 'bucket' was read; give one of cup, tray, film, stack"),
        (["--shape", "stack"], "depth: a stack wants its thickness, such as --depth 12mm"),
        (["--shape", "stack", "--depth", "0mm"], "depth: '0mm' is nothing"),
        (["--shape", "stack", "--depth", "12"], "depth: '12' has no unit; give a length"),
        (["--shape", "stack", "--depth", "12mm", "--share", "0%"], "share: '0%' is nothing"),
        (["--shape", "stack", "--depth", "12mm", "--softens", "20degC"], "not within 40 to 150"),
        (["--shape", "tray", "--cup", "paper-150"], "epoxy in a tray is in no cup"),
        (["--depth", "12mm"], "depth: that is asked for --shape tray or film or stack alone"),
        (["--shape", "tray", "--share", "40%"], "share: that is asked for --shape stack alone"),
        (["--softens", "60degC"], "softens: that is asked for --shape stack alone"),
        (["--shape", "film", "--lasting", "9min"], "lasting: that is asked for --shape cup alone"),
        (["--lasting", "0min"], "lasting: '0min' is not within 1 min and 24 h"),
        (["--lasting", "soon"], "lasting: 'soon' is not a number with a unit"),
    ],
)
def test_a_shape_that_is_none_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert said in refused(capsys, "--resin", "sample-36", "--mass", "60g", *words)


@settings(max_examples=25)
@given(st.text(max_size=20), st.text(max_size=20))
def test_whatever_is_typed_gives_an_answer_or_one_sentence(mass: str, air: str) -> None:
    said = "an answer"
    try:
        assert answer(Asked("sample-36", mass, air))["notes"]
    except ValueError as error:
        said = str(error)
    assert said.isprintable()


def test_a_command_that_reckons_nothing_loads_no_scipy() -> None:
    code = (
        "import sys; from mixer.cli import main; main(['resin', 'list', '--json'])\n"
        "sys.exit(bool({'scipy', 'numpy'} & set(sys.modules)))"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60, stdout=subprocess.DEVNULL)


def test_of_more_than_was_checked_it_tells_how_much_and_what_a_tray_would_buy(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ["--resin", "sample-28", "--mass", "700g", "--air", "20degC", "--lasting", "70min"]
    found = asked(capsys, *words)
    small = asked(capsys, *words[:3], "100g", *words[4:])
    assert found["gel_min"] is found["range_min"] is None
    assert found["largest"] == small["largest"]
    assert found["tray"]["range_min"][0] > 30
    assert MIDDLE in found["notes"]
    assert any("No figure: the model was checked for 5 to 500 g" in note for note in found["notes"])
    assert asked(capsys, *words[:5], "45degC")["largest"] is None
