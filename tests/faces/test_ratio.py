"""``cupside ratio``: from equivalent weights, or of a profile."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.sizing.ratio import FIRST, Asked, answer
from mixer.cli import main

SAMPLE = Path(__file__).parents[2] / "profiles/resins/sample-36.toml"
DENSE = ["--eew", "190", "--ahew", "24", "--density-resin"]


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["ratio", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["ratio", *words]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    return told.err


def test_from_equivalent_weights(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "--eew", "190", "--ahew", "24.4")
    assert found["phr"] == pytest.approx(12.842, abs=5e-4)  # 100 * 24.4 / 190
    assert found["by_weight"] == found["phr"]
    assert found["by_volume"] is None
    assert found["of_stoichiometric"] == 1


def test_by_volume_wants_both_densities(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--eew", "200", "--ahew", "50", "--density-resin", "1.2 g/mL"]
    found = asked(capsys, *words, "--density-hardener", "1000 kg/m3")
    assert found["by_volume"] == pytest.approx(30)  # 25 g of 1.0 g/mL for 100 g of 1.2
    assert "--density-hardener" in refused(capsys, *words)


def test_of_a_profile(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "--resin", "sample-36")
    assert found["phr"] == pytest.approx(36)
    assert found["by_volume"] == pytest.approx(36 * 1.15 / 0.98)
    assert found["of_stoichiometric"] == pytest.approx(1)
    assert [part["name"] for part in found["components"]] == ["resin", "hardener"]
    assert asked(capsys, "--resin", "sample-blend")["of_stoichiometric"] is None


def test_a_blend_and_an_inert_additive(tmp_path: Path) -> None:
    tinted = (SAMPLE.parent / "sample-tinted.toml").read_text("utf-8")
    mine = tmp_path / "mine.toml"
    text = tinted.replace("parts = 100\n", "parts = 100\neew = 190\n")
    mine.write_text(text.replace("parts = 36\n", "parts = 36\nahew = 68.4\n"), "utf-8")
    # The pigment takes no hardener and weighs on neither side.
    assert answer(Asked(resin=str(mine)))["of_stoichiometric"] == pytest.approx(1)
    blend = (SAMPLE.parent / "sample-blend.toml").read_text("utf-8")
    text = blend.replace("parts = 100\n", "parts = 100\neew = 200\n")
    text = text.replace("parts = 24\n", "parts = 24\nahew = 60\n")
    mine.write_text(text.replace("parts = 12\n", "parts = 12\nahew = 40\n"), "utf-8")
    found = answer(Asked(resin=str(mine)))
    # 24/60 + 12/40 = 0.7 mol of hydrogen against 100/200 = 0.5 mol of epoxide.
    assert found["of_stoichiometric"] == pytest.approx(1.4)
    assert found["notes"][0].startswith("That is far off, 1.40 times the hardener")
    assert found["phr"] == pytest.approx(36)


def test_a_person_is_told_that_the_label_comes_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ratio", "--resin", "sample-36"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "100 : 36 by weight (resin : hardener)"
    assert told[1] == "100 : 42.24 by volume (resin : hardener)"
    assert told[-1] == FIRST


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "give --eew and --ahew"),
        (["--eew", "190"], "give --eew and --ahew"),
        (["--ahew", "24"], "give --eew and --ahew"),
        (["--eew", "0", "--ahew", "24"], "eew: '0' was read"),
        (["--eew", "-190", "--ahew", "24"], "eew: '-190' was read"),
        (["--eew", "nan", "--ahew", "24"], "eew: 'nan' was read"),
        (["--eew", "19O", "--ahew", "24"], "eew: '19O' was read"),
        (["--eew", "190", "--ahew", "inf"], "ahew: 'inf' was read"),
        (["--eew", "190", "--ahew", "2_4"], "ahew: '2_4' was read"),
        (["--eew", "190", "--ahew", "24 g"], "ahew: '24 g' was read"),
        (["--resin", "no-such"], "is no resin"),
        (["--resin", "sample-36", "--eew", "190"], "give it alone"),
        ([*DENSE, "1.1", "--density-hardener", "1"], "density-resin: '1.1' has no unit"),
        ([*DENSE, "9 g/mL", "--density-hardener", "1 g/mL"], "is not within 0.5 to 3 g/mL"),
    ],
)
def test_wrong_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert said in refused(capsys, *words)


@given(st.text(max_size=30), st.text(max_size=30))
def test_whatever_is_typed_gives_a_ratio_or_one_sentence(eew: str, ahew: str) -> None:
    said = "a ratio"
    try:
        assert answer(Asked(eew=eew, ahew=ahew))["phr"] > 0
    except ValueError as error:
        said = str(error)
    assert said.isprintable()
