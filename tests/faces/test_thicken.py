"""``cupside thicken``: where to begin with a filler."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.files.cloth import load_filler
from mixer.app.sizing.thicken import DUST, START
from mixer.cli import main
from mixer.plan.thicken import epoxy_for, epoxy_in, thicken

MIXES = [mix for name in ("flox", "microballoons") for mix in load_filler(name)]


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["thicken", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_wet_micro_worked_by_hand(capsys: pytest.CaptureFixture[str]) -> None:
    # 46 g of epoxy of 1.15 g/mL are 40 mL; three volumes of bubbles (common practice, no
    # source), 120 mL, weigh 13.2 g at 0.11 g/mL and are 66 mL of glass and gas at 0.2:
    # 106 mL of 59.2 g come out. With 2 volumes of 0.08 it is 6.4 g, with 4 of 0.14 22.4 g.
    found = asked(capsys, "microballoons", "--mix", "wet micro", "--epoxy", "46g")
    assert found["epoxy_g"] == [46, 46, 46]
    assert found["filler_g"] == [6.4, 13.2, 22.4]
    assert found["volume_ml"][1] == pytest.approx(106)
    assert found["density_g_ml"][1] == pytest.approx(59.2 / 106, abs=0.001)
    assert {START, DUST} < set(found["notes"])


def test_what_to_split_off_for_a_volume(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("microballoons", "--mix", "wet micro", "--volume", "106mL")
    found = asked(capsys, *words)
    low, value, high = found["epoxy_g"]
    assert value == pytest.approx(46, abs=0.05)
    assert low < value < high
    assert main(["thicken", *words, "--resin", "sample-36"]) == 0
    told = capsys.readouterr().out
    assert "wet micro: 44" in told
    assert "microballoons  about " in told
    assert DUST in told


def test_how_much_fits_a_cup_once_thickened(capsys: pytest.CaptureFixture[str]) -> None:
    # Wet micro comes to 2.65 times its epoxy (above), with the most filler to 3.8: of 150 mL
    # filled to 60 % 90 / 2.65 mL are epoxy, 34.0 mL, and of 1.15 g/mL 39.1 g.
    found = asked(capsys, "microballoons", "--mix", "wet micro", "--cup", "paper-150")
    assert found["fits_g"] == found["epoxy_g"][1] == pytest.approx(39.1, abs=0.05)
    assert found["volume_ml"][1] == pytest.approx(90, abs=0.2)
    assert found["volume_ml"][2] < 150
    words = ("microballoons", "--mix", "dry micro", "--cup", "paper-150", "--epoxy", "69g")
    assert "; this is more." in asked(capsys, *words)["notes"][0]


@given(st.sampled_from(MIXES), st.floats(0.1, 1000), st.floats(0.3, 0.9))
def test_what_fits_leaves_room_to_stir_and_never_runs_over(mix, cup_ml, fill) -> None:
    found = thicken(mix, epoxy_in(mix, cup_ml, fill, 1.15), 1.15)
    assert found.volume_ml.value <= cup_ml * fill * (1 + 1e-9)
    assert found.volume_ml.high <= cup_ml * (1 + 1e-9)


@given(st.sampled_from(MIXES), st.floats(0.1, 1000), st.floats(0.9, 1.3))
def test_ranges_hold_their_values(mix, epoxy_g: float, density: float) -> None:
    found = thicken(mix, epoxy_g, density)
    for figures in (found.filler_g, found.volume_ml, found.density_g_ml):
        assert 0 < figures.low <= figures.value <= figures.high
    whole = found.volume_ml.value * found.density_g_ml.value
    assert whole == pytest.approx(epoxy_g + found.filler_g.value)
    # The way back: the epoxy in what comes out is what went in.
    assert epoxy_for(mix, found.volume_ml.value, density).value == pytest.approx(epoxy_g)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["sand", "--epoxy", "40g"], "'sand' is no filler"),
        (["microballoons", "--epoxy", "40g"], "mix: nothing was read; give one of"),
        (["microballoons", "--mix", "thick", "--epoxy", "40g"], "mix: 'thick' was read"),
        (["flox"], "give --epoxy, such as 40g, or --volume"),
        (["flox", "--epoxy", "40g", "--volume", "60mL"], "give --epoxy, such as 40g, or"),
        (["flox", "--epoxy", "0g"], "epoxy: '0g' is not above 0"),
        (["flox", "--epoxy", "40"], "epoxy: '40' has no unit"),
        (["flox", "--volume", "60g"], "is a mass"),
        (["flox", "--volume", "0mL"], "volume: '0mL' is not above 0"),
        (["flox", "--epoxy", "40g", "--resin", "glue"], "'glue' is no resin"),
    ],
)
def test_wrong_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert main(["thicken", *words]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert said in told.err
