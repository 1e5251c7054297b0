"""``cupside size`` and ``cupside layup``: from plies to a need and to batches."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.app.files.profiles import load_resin
from mixer.app.sizing.batch_plan import HOT
from mixer.app.sizing.size import FIRST, TWO, Asked, answer
from mixer.app.sizing.stock import stock
from mixer.app.sizing.thicken import DUST
from mixer.cli import main

DEMO = (Path(__file__).parents[2] / "profiles/layups/demo-panel.toml").read_text("utf-8")
#: One ply for 99.0 g of mix, and 2.1 g of slurry.
PLY_AND_SLURRY = """
source = "invented for a test"
[[step]]
name = "skin"
kind = "plies"
[[step.ply]]
fabric = "bid-300"
shape = "rectangle"
length = "1 m"
width = "316.8 mm"
[[step]]
name = "core"
kind = "slurry"
surface = "foam-fine"
filler = "microballoons"
shape = "rectangle"
mix = "micro slurry"
length = "200 mm"
width = "100 mm"
"""
PIECE = ("--area", "0.6m2", "--fabric", "300 g/m2", "--plies", "4")


@pytest.fixture(autouse=True)
def _own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path / "config"))


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["size", *words, "--json"]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return json.loads(told.out)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    return told.err


def test_a_piece_of_cloth_worked_by_hand(capsys: pytest.CaptureFixture[str]) -> None:
    # Four plies of 300 g/m2 on 0.6 m2: 720 g of glass, as much to apply (common practice,
    # no source) and a 25th more for the cup: 750 g; 480 g stay at 40 %; 1.168 mm thick.
    found = asked(capsys, *PIECE)
    assert set(found) == {"need", "batches", "thickened", "thickness_mm", "notes"}
    assert set(found["need"]) == {"apply_g", "stay_g", "lines"}
    assert found["need"]["apply_g"][1] == pytest.approx(750)
    assert found["need"]["stay_g"][1] == pytest.approx(480)
    for low, value, high in (found["need"]["apply_g"], found["need"]["stay_g"]):
        assert low < value < high
    cloth, lost = found["need"]["lines"]
    assert (cloth["area_m2"], cloth["cloth_g"], cloth["apply_g"]) == pytest.approx((2.4, 720, 720))
    assert (lost["area_m2"], lost["cloth_g"], lost["apply_g"]) == (None, 0, pytest.approx(30))
    assert found["thickness_mm"] == pytest.approx(1.168, abs=0.001)
    # No resin was named: no components, and cups of a usual size.
    assert all(b["components"] == [] and b["working_min"] is None for b in found["batches"])
    assert max(b["mass_g"] for b in found["batches"]) <= 100
    [unnamed] = [note for note in found["notes"] if "No resin was named" in note]
    assert "no smallest batch of which the scale can prove the ratio" in unnamed


@pytest.mark.parametrize(("area", "says"), [("0.0001m2", True), ("1mm2", True), ("2cm2", False)])
def test_a_need_that_is_next_to_nothing_is_said(
    capsys: pytest.CaptureFixture[str], area: str, says: bool
) -> None:
    found = asked(capsys, "--area", area, "--fabric", "300 g/m2")
    assert any("below 0.05 g of epoxy" in note for note in found["notes"]) == says


def test_batches_of_a_resin(capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--resin", "sample-36", "--cup", "paper-300", "--air", "25degC")
    found = asked(capsys, *PIECE, *words)
    batches = found["batches"]
    assert sum(b["mass_g"] for b in batches) == pytest.approx(750, abs=1e-4)
    for batch in batches:
        assert set(batch) == {
            *("mass_g", "components", "for", "mix_at_min", "parts", "working_min", "decided_by")
        }
        resin, hardener = batch["components"]
        assert (resin["name"], hardener["name"]) == ("resin", "hardener")
        assert hardener["target_g"] / resin["target_g"] == pytest.approx(0.36)
        assert resin["target_g"] + hardener["target_g"] == pytest.approx(batch["mass_g"])
        assert batch["decided_by"] == "working time"
        # Stirred, used at 10 g a minute, and one stir more of waiting: within two thirds.
        assert 6 + batch["mass_g"] / 10 <= 2 / 3 * batch["working_min"] + 0.1
    starts = [b["mix_at_min"] for b in batches]
    assert starts[0] == 0
    # Fresh as the cup before is empty: it is used from the end of its own stir on.
    for before, after, start in zip(batches, starts[1:], starts, strict=False):
        assert after == pytest.approx(start + before["mass_g"] / 10, abs=0.11)


def test_the_shipped_layup_for_a_person(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["size", "demo-panel"]) == 0
    told = capsys.readouterr().out
    for words in (FIRST, TWO, DUST, HOT, "No temperature was given: the label's 25 degC."):
        assert words in told
    assert "Apply about 777 g (635 to 1043 g)" in told
    assert "Stay  about 451 g (361 to 605 g) in the cloth" in told
    assert "spar cap: plies 4-9, uni-tape-650 at 0 deg: 0.433 m2, 282 g of cloth" in told
    assert "Batch 1: 200.0 g (resin 156.2 g, hardener 43.8 g), mix at 0 min" in told
    assert "for slurry on the core (50.0 g); skin, ply 1 (150.0 g)" in told
    assert "size by cup" in told
    assert "sample-28 is not confirmed against its label." in told
    # 50 g of epoxy of 1.133 g/mL, as much loose filler by volume, 0.11 g/mL: 4.9 g.
    assert "slurry on the core: into its 50.0 g of stirred epoxy about 4.9 g" in told
    # Two plies of heavy tape are wetted together.
    assert "for spar cap, plies 4-5 (118.4 g)" in told


def test_filler_is_told_for_each_batch_that_a_step_is_divided_over(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "wide.toml"
    path.write_text(DEMO.replace('length = "1.2 m"', 'length = "7 m"', 1), "utf-8")
    found = asked(capsys, str(path), "--cup", "paper-300")
    told = [note for note in found["notes"] if note.startswith("slurry on the core")]
    own = [b["for"].split(";")[0] for b in found["batches"] if "slurry" in b["for"]]
    assert len(told) == len(own) >= 2
    for number, (note, of) in enumerate(zip(told, own, strict=True), 1):
        mix_g, _, cups = of.rpartition("(")[2].removesuffix(" cups").partition(" g), thicken in ")
        each_g = float(mix_g) / int(cups)
        assert f"core, batch {number}: split its stirred epoxy into {cups} cups of" in note
        # As much loose filler by volume (micro slurry), 0.11 g/mL in epoxy of 1.133 g/mL.
        assert f"about {each_g / 1.133 * 0.11:.1f} g of microballoons" in note


def test_what_a_batch_is_for_is_told_in_the_order_of_the_work(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    plies = "".join(
        f'[[step.ply]]\nfabric = "bid-300"\nshape = "rectangle"\nlength = "1 m"\n'
        f'width = "{width} mm"\n'
        for width in (192, 416, 192)  # with what is lost 60, 130 and 60 g of mix
    )
    path = tmp_path / "three.toml"
    path.write_text(
        f'source = "x"\n[[step]]\nname = "skin"\nkind = "plies"\ntogether = 1\n{plies}', "utf-8"
    )
    found = asked(capsys, str(path), "--cup", "paper-150")
    assert [batch["for"] for batch in found["batches"]] == [
        "skin, ply 1 (60.0 g) and a part of ply 2 (23.3 g)",
        "skin, a part of ply 2 (83.3 g)",
        "skin, a part of ply 2 (23.3 g) and ply 3 (60.0 g)",
    ]
    for batch in found["batches"]:
        assert sum(part["mass_g"] for part in batch["parts"]) == pytest.approx(batch["mass_g"])
    assert [(p["plies"], p["whole"]) for p in found["batches"][0]["parts"]] == [
        ([1], True),
        ([2], False),
    ]


def test_a_ply_is_divided_before_a_batch_is_a_crumb(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "panel.toml"
    path.write_text(PLY_AND_SLURRY, "utf-8")
    found = asked(capsys, str(path))  # a usual cup is 100 g
    assert [batch["for"] for batch in found["batches"]] == [
        "skin, a part of ply 1 (50.5 g)",
        "skin, a part of ply 1 (48.5 g); core (2.1 g)",
    ]


def test_a_crumb_that_cannot_be_shared_is_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "panel.toml"
    two = PLY_AND_SLURRY.replace('"316.8 mm"', '"158.4 mm"\ncount = 2')
    path.write_text(two.replace('"plies"', '"plies"\ntogether = 2'), "utf-8")
    found = asked(capsys, str(path))
    assert [batch["for"] for batch in found["batches"]] == [
        "skin, plies 1-2 (99.0 g)",
        "core (2.1 g)",
    ]
    [named] = [note for note in found["notes"] if "below 5 g" in note]
    assert named.startswith("Batch 2: below 5 g, which mostly clings to its cup, and no batch")
    # Where the scale is the reason it is named by that, and once.
    cool = ("--resin", "sample-36", "--air", "9degC")
    by_scale = [n for n in asked(capsys, str(path), *cool)["notes"] if n.startswith("Batch 2: ")]
    assert len(by_scale) == 1
    assert "too small for this scale" in by_scale[0]
    assert not any("below 5 g" in note for note in asked(capsys, *PIECE)["notes"])


def test_some_plies_of_a_layup(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, "demo-panel", "--ply", "1-2, 4")
    first, second, lost = found["need"]["lines"]
    assert "plies 1-2" in first["what"]
    assert "ply 4" in second["what"]
    assert found["need"]["apply_g"][1] == pytest.approx((288 + 59.28) / 0.96)
    assert lost["apply_g"] == pytest.approx(347.28 / 24)
    assert any("no slurry" in note for note in found["notes"])
    assert asked(capsys, "demo-panel", "--ply", "4", "--ply", "1-2") == found
    said = refused(capsys, "size", "demo-panel", "--ply", "1", "--ply", "two")
    assert "'1,two' was read" in said


def test_a_dry_kit_on_the_scale(capsys: pytest.CaptureFixture[str]) -> None:
    found = asked(capsys, *PIECE, "--kit", "700 g")
    assert found["need"]["apply_g"][1] == pytest.approx(700 / 0.96)
    assert found["need"]["stay_g"][1] == pytest.approx(700 * 2 / 3)
    assert found["thickness_mm"] == pytest.approx(1.168 * 700 / 720, abs=0.001)
    alone = asked(capsys, "--kit", "412g")
    assert alone["need"]["apply_g"][1] == pytest.approx(412 / 0.96)
    assert alone["thickness_mm"] is None
    assert alone["need"]["lines"][0]["area_m2"] is None
    of_layup = asked(capsys, "demo-panel", "--ply", "1-3", "--kit", "390g")
    assert sum(line["cloth_g"] for line in of_layup["need"]["lines"]) == pytest.approx(390)
    heavy = asked(capsys, *PIECE, "--kit", "900g")
    assert any("is there something else in it?" in note for note in heavy["notes"])
    # 720 g by its outlines, 5 % more of its roll, and twice that.
    other = refused(capsys, "size", *PIECE, "--kit", "5kg")
    assert "kit: '5kg' is heavier than its cloth can be; accepted: up to 1512 g" in other


def test_what_is_left_of_the_lots_is_a_cap(capsys: pytest.CaptureFixture[str]) -> None:
    words = (*PIECE, "--resin", "sample-36", "--left", "resin=300g", "--left", "hardener=90g")
    found = asked(capsys, *words)
    # 90 g of hardener are enough for 340 g of mix (36 of 136 parts): 410 g of 750 g are not
    # there, 108.5 g of them hardener.
    short = [note for note in found["notes"] if "is not enough" in note]
    first = int(short[0].split()[2])
    assert "what is left of the hardener is not enough: 109 g of it are missing" in short[0]
    masses = [batch["mass_g"] for batch in found["batches"]]
    assert sum(masses[: first - 1]) <= 340 < sum(masses[:first])
    assert sum(masses) == pytest.approx(750, abs=1e-4)
    little = asked(capsys, *words[:-1], "hardener=9g")
    # 9 g of hardener are for 34 g of mix, in one batch; those of a fresh lot are not limited.
    first, *others = little["batches"]
    assert first["mass_g"] == pytest.approx(34)
    assert first["decided_by"] == "what is left of the hardener"
    assert {batch["decided_by"] for batch in others} == {"working time"}
    assert min(batch["mass_g"] for batch in others) > 70
    crumb = asked(capsys, *words[:-1], "hardener=1.3g")  # for 4.9 g of mix
    assert min(batch["mass_g"] for batch in crumb["batches"]) > 70
    assert any("From batch 1 on what is left of the hardener" in note for note in crumb["notes"])
    enough = asked(capsys, *words[:-1], "hardener=900g", "--kit", "680g")
    assert any("of the resin is not enough" in note for note in enough["notes"])


@settings(max_examples=30, deadline=None)
@given(st.floats(5, 2000), st.floats(5, 2000))
def test_no_more_is_planned_of_the_lots_than_is_said(resin_g: float, hardener_g: float) -> None:
    resin = load_resin("sample-36")
    found = stock([f"resin={resin_g:.3f}g", f"hardener={hardener_g:.3f}g"], resin)
    assert found is not None
    most_g = found.most_ug / 1e6
    assert most_g * 100 / 136 <= resin_g + 0.001
    assert most_g * 36 / 136 <= hardener_g + 0.001
    assert most_g >= min(resin_g * 1.36, hardener_g * 136 / 36) - 0.01


def test_a_batch_that_is_too_small_for_the_scale_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = ("--kit", "20g", "--resin", "sample-36")
    coarse = asked(capsys, *words)
    assert coarse["batches"][0]["decided_by"] == "need"
    said = [note for note in coarse["notes"] if "stay unproven" in note]
    assert said
    assert "Batch 1: too small for this scale (steps of 0.1 g, as most have)" in said[0]
    # 100 : 36 within 3 % on a scale of 0.1 g, as the bench says it: from 42 g on.
    assert "can prove a ratio from 42 g on" in said[0]
    enough = asked(capsys, "--kit", "42g", "--resin", "sample-36")
    assert not any("unproven" in note for note in enough["notes"])
    fine = asked(capsys, *words, "--scale", "sma-fine")
    assert not any("unproven" in note for note in fine["notes"])


def test_a_scale_may_be_what_decides(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    scale = tmp_path / "small.toml"
    scale.write_text('source = "invented"\ndialect = "none"\ncapacity = "60 g"\n', "utf-8")
    found = asked(capsys, "--kit", "100g", "--scale", str(scale))
    assert {b["decided_by"] for b in found["batches"]} == {"scale"}
    scale.write_text('source = "invented"\ndialect = "none"\ncapacity = "5 g"\n', "utf-8")
    words = ["--kit", "100g", "--scale", str(scale), "--cup", "paper-300"]
    assert "does not carry the cup" in refused(capsys, "size", *words)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--air", "45degC"], "No working time: the model was checked for 10 to 40 degC"),
        (
            ["--air", "8degC"],
            "at 8 degC no batch is more than at 10 degC, nor than a usual cup of 100 g",
        ),
        (["--air", "38degC"], "No batches: at this temperature, 38 degC, by a label of 25 min"),
        (["--resin-fraction", "55%"], "heavy"),
        (["--air", "17degC"], "17 degC is colder than the 18 degC that sample-36 asks for."),
    ],
)
def test_what_is_not_known_is_said(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    found = asked(capsys, *PIECE, "--resin", "sample-36", *words)
    assert any(said in note for note in found["notes"])
    assert HOT in found["notes"]
    if "8degC" in words:
        assert {b["decided_by"] for b in found["batches"]} == {"usual cup"}
        assert max(b["mass_g"] for b in found["batches"]) <= 100
    if "38degC" in words or "45degC" in words:
        assert found["batches"] == []


def test_without_a_folder_for_the_record_a_layup_is_sized_too(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual = asked(capsys, *PIECE)
    lost = str(tmp_path / "pulled" / "record.cupside")
    monkeypatch.setenv("CUPSIDE_RECORD", lost)
    assert asked(capsys, *PIECE) == usual
    assert "There is no folder" in refused(capsys, "size", *PIECE, "--record", lost)


def test_a_resin_that_is_no_use_in_this_room_is_said_before_all(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    slow, quick = 'time = "25 min"', 'time = "11 min"'
    text = (Path(__file__).parents[2] / "profiles/resins/sample-36.toml").read_text("utf-8")
    assert slow in text
    mine = tmp_path / "mine.toml"
    mine.write_text(text.replace(slow, quick), "utf-8")
    words = ("--area", "1m2", "--fabric", "300 g/m2", "--plies", "2", "--resin", str(mine))
    found = asked(capsys, *words, "--air", "26 degC")
    first = found["notes"][0]
    assert len(found["batches"]) > 1
    assert first.startswith("No use in this room, for so much and on this scale: no batch")
    assert "can prove this resin's ratio from 42 g on" in first
    assert main(["size", *words, "--air", "26 degC"]) == 0
    assert capsys.readouterr().out.startswith(first)
    assert main(["size", *words, "--air", "30 degC"]) == 0
    assert capsys.readouterr().out.startswith("No batches: ")
    usual = asked(capsys, *words[:-1], "sample-28", "--air", "20 degC")["notes"]
    assert not any(note.startswith("No ") and "use" in note[:12] for note in usual)


def test_a_row_without_end_is_none(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    found = asked(capsys, "--area", "1000m2", "--fabric", "bid-300", "--plies", "1000")
    assert found["batches"] == []
    assert any("more than 1000" in note for note in found["notes"])
    assert found["need"]["apply_g"][1] == pytest.approx(300e6 / 0.96)


@settings(max_examples=25)
@given(st.integers(1, 500), st.integers(1, 900), st.integers(1, 6), st.none() | st.integers(0, 79))
def test_both_unit_systems_agree(area: int, areal: int, plies: int, percent: int | None) -> None:
    # Definitions: a yard is 0.9144 m, an ounce 28.349523125 g, a foot 0.3048 m.
    fraction = None if percent is None else f"{percent}%"
    ours = answer(
        Asked(
            area=f"{area} dm2",
            fabric=f"{areal + 9} g/m2",
            plies=str(plies),
            resin_fraction=fraction,
        )
    )
    feet, ounces = area / 100 / 0.3048**2, (areal + 9) * 0.9144**2 / 28.349523125
    theirs = answer(
        Asked(
            area=f"{feet:.9f} ft2",
            fabric=f"{ounces:.9f} oz/yd2",
            plies=str(plies),
            resin_fraction=fraction,
        )
    )
    for key in ("apply_g", "stay_g"):
        assert theirs["need"][key] == pytest.approx(ours["need"][key], rel=1e-5, abs=3e-6)
    assert theirs["thickness_mm"] == pytest.approx(ours["thickness_mm"], abs=2e-3)
    total = sum(batch["mass_g"] for batch in ours["batches"])
    assert total == pytest.approx(ours["need"]["apply_g"][1], abs=1e-4)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "give a layup, or --area and --fabric"),
        (["--area", "0.6m2"], "give a layup, or --area and --fabric"),
        ([*PIECE, "--left", "resin=9g"], "left: of which resin? give --resin"),
        ([*PIECE, "--resin", "sample-36", "--left", "9g"], "give NAME=MASS such as resin=900g"),
        ([*PIECE, "--resin", "sample-36", "--left", "glue=9g"], "being resin, hardener"),
        ([*PIECE, "--resin", "sample-36", "--left", "resin=0g"], "of resin nothing is left"),
        ([*PIECE, "--resin", "sample-36", "--left", "resin=lots"], "left of resin: 'lots'"),
        (["--area", "0.6m2", "--kit", "180g"], "give a layup, or --area and --fabric"),
        (["--fabric", "bid-300", "--plies", "2"], "give a layup, or --area and --fabric"),
        *(
            (["--area", "0.6m2", "--fabric", text], f"fabric: '{text}' is not within 10 to 5000")
            for text in ("-3 g/m2", "-3g/m2", "9000 g/m2", "0 g/m2", ".003 kg/m2")
        ),
        *(
            (["--area", "0.6m2", "--fabric", text], f"fabric: '{text}' is not a number with a")
            for text in ("- 3 g/m2", "1e400 g/m2")
        ),
        *(
            (["--area", "0.6m2", "--fabric", text], f"fabric: '{text}' was read; give one of bid-2")
            for text in ("bid", "300", "300 g", "9 oz", "", "g/m2", "nan g/m2", "./absent.toml")
        ),
        (["--area", "0.6m2", "--fabric", "bid"], "or an areal weight such as '300 g/m2'"),
        (["--area", "0", "--fabric", "bid-300"], "area: '0' has no unit"),
        (["--area", "0m2", "--fabric", "bid-300"], "area: '0m2' is not from 1 mm2"),
        (
            ["--area", "-1m2", "--fabric", "bid-300"],
            "area: '-1m2' is not from 1 mm2 to 1000 m2",
        ),
        (["--area", "1m", "--fabric", "bid-300"], "is a length"),
        (["--area", "1m2", "--fabric", "300 g/m3"], "fabric: '300 g/m3' is a density"),
        (["--area", "1m2", "--fabric", "3 g/m2"], "fabric: '3 g/m2' is not within 10 to 5000"),
        ([*PIECE[:4], "--plies", "0"], "plies: '0' was read; give how many, from 1 to 1000"),
        ([*PIECE[:4], "--plies", "two"], "plies: 'two' was read"),
        ([*PIECE[:4], "--plies", "-2"], "plies: '-2' was read"),
        ([*PIECE, "--resin-fraction", "81%"], "resin-fraction: '81%' is not within 0 and 0.8"),
        ([*PIECE, "--resin-fraction", "-1%"], "resin-fraction: '-1%' is not within 0 and 0.8"),
        ([*PIECE, "--resin-fraction", "40"], "resin-fraction: '40' is not within 0 and 0.8"),
        (
            [*PIECE, "--kit", "670g"],
            "lighter than its cloth can be; accepted: from 671 g on, 720 g",
        ),
        ([*PIECE, "--kit", "670g"], "or name with --plies or --area what is there"),
        (["demo-panel", "--kit", "100g"], "or name with --ply what is there"),
        ([*PIECE, "--kit", "0g"], "kit: '0g' is nothing"),
        ([*PIECE, "--kit", "600"], "kit: '600' has no unit"),
        ([*PIECE, "--ply", "1"], "--ply chooses from a layup"),
        ([*PIECE, "--resin", "glue"], "'glue' is no resin"),
        ([*PIECE, "--cup", "mug"], "'mug' is no cup"),
        ([*PIECE, "--scale", "beam"], "'beam' is no scale"),
        ([*PIECE, "--air", "warm"], "air: 'warm' is not a number"),
        ([*PIECE, "--air", "70degC"], "air: '70degC' is not within -10 to 60"),
        ([*PIECE, "--method", "vacuum"], "'vacuum' is no method"),
        (
            ["demo-panel", "--ply", "14"],
            "demo-panel: --ply: ply 14 is not in demo-panel; accepted: 1 to",
        ),
        (["demo-panel", "--ply", "0"], "demo-panel: --ply: plies: '0' was read"),
        (["demo-panel", "--ply", "4-1"], "demo-panel: --ply: plies: '4-1' was read"),
        (["demo-panel", "--ply", "one"], "demo-panel: --ply: plies: 'one' was read"),
        (["demo-panel", "--ply", ""], "demo-panel: --ply: plies: '' was read"),
        (["demo-panel", "--area", "1m2"], "a layup has its own cloth"),
        (["demo-panel", "--kit", "100g"], "is lighter than its cloth can be"),
        (["demo"], "'demo' is no layup that is known here"),
        ([*PIECE, "--record", "absent.cupside"], "There is no record at absent.cupside."),
        (["absent.csv"], "absent.csv: cannot be read"),
    ],
)
def test_wrong_input_is_one_sentence(
    capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert said in refused(capsys, "size", *words)


def test_a_kit_of_a_layup_without_plies(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "core.toml"
    path.write_text(DEMO[: DEMO.index('[[step]]\nname = "skin"')], "utf-8")
    assert "has no plies that could be weighed" in refused(
        capsys, "size", str(path), "--kit", "100g"
    )
    found = asked(capsys, str(path))
    assert found["thickness_mm"] is None
    assert found["need"]["stay_g"] == [0, 0, 0]
    assert found["need"]["apply_g"][1] == pytest.approx(50)


def test_check_and_import(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["layup", "check", "demo-panel"]) == 0
    assert capsys.readouterr().out.startswith("demo-panel: 13 plies in 7 steps\n")
    table, to = tmp_path / "plies.csv", tmp_path / "new.toml"
    table.write_text("fabric,shape,length,width\nbid-300,rectangle,1 m,1 m\n", "utf-8")
    assert main(["layup", "import", str(table), "--to", str(to)]) == 0
    assert capsys.readouterr().out.startswith("new: 1 ply in 1 step\n")
    assert asked(capsys, str(to)) == asked(capsys, str(table))
    assert "is there already" in refused(capsys, "layup", "import", str(table), "--to", str(to))
    table.write_text("fabric,shape,length,width\nbid-300,rectangle,0 m,1 m\n", "utf-8")
    assert "plies.csv: line 2, length" in refused(capsys, "layup", "check", str(table))


def test_a_stack_that_may_heat_itself_is_told_of_with_the_command_that_reckons_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    cloth = ["size", "--area", "0.05m2", "--fabric", "650 g/m2", "--resin", "sample-36"]
    assert main([*cloth, "--plies", "4"]) == 0
    assert "--shape stack" not in capsys.readouterr().out
    assert main([*cloth, "--plies", "18"]) == 0
    said = capsys.readouterr().out
    words = said[said.index("cupside life") :].split(" tells")[0].split()
    assert main(words[1:]) == 0
    assert "foam" in capsys.readouterr().out


FILLET = """
[[step]]
name = "fillet"
kind = "fillet"
filler = "microballoons"
mix = "dry micro"
radius = "10 mm"
length = "12 m"
"""


def test_a_batch_is_split_into_cups_that_have_room_for_what_it_is_thickened_into(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # A cup of 150 mL, 60 % full, is 90 mL; 68.6 g of clear epoxy fit it, and once they are dry
    # micro, about 260 mL by the middle of its filler, they do not.
    path = tmp_path / "fillets.toml"
    path.write_text(f'source = "invented"\nresin = "sample-36"\n{FILLET}', "utf-8")
    found = asked(capsys, str(path), "--cup", "paper-150", "--air", "22degC")
    (batch,), (row,) = found["batches"], found["thickened"]
    assert batch["decided_by"] == "need"
    assert row["epoxy_g"] == pytest.approx(batch["mass_g"])
    cups = row["cups"]
    assert row["volume_ml"][1] / cups <= 90
    assert row["volume_ml"][2] / cups <= 150
    assert row["volume_ml"][1] > 90 * (cups - 1) or row["volume_ml"][2] > 150 * (cups - 1)
    assert batch["for"].endswith(f" g), thicken in {cups} cups")
    whole = row["volume_ml"][1] * row["density_g_ml"][1]
    assert whole == pytest.approx(row["epoxy_g"] + row["filler_g"][1], rel=1e-5)
    (told,) = [note for note in found["notes"] if "stirred epoxy" in note]
    assert f"split its stirred epoxy into {cups} cups of {row['epoxy_g'] / cups:.1f} g, " in told
    assert f"about {row['volume_ml'][1] / cups:.0f} mL (" in told
    assert f"of {row['density_g_ml'][1]:.2f} g/mL" in told
    # Without a cup it is not known how many.
    bare = asked(capsys, str(path), "--air", "22degC")
    assert bare["thickened"][0]["cups"] is None
    assert "thicken in" not in bare["batches"][0]["for"]


def test_what_is_thickened_comes_from_one_batch_with_its_neighbours(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    # Cut to what a cup holds once thickened, and the tapes beside it in cups of their own, each
    # was too small for the scale to prove.
    tape = '[[step]]\nname = "{}"\nkind = "plies"\n[[step.ply]]\nfabric = "bid-200"\n'
    tape += 'shape = "rectangle"\nlength = "200 mm"\nwidth = "200 mm"\n'
    text = tape.format("tape") + FILLET.replace("12 m", "10 m") + tape.format("tape 2")
    path = tmp_path / "joint.toml"
    path.write_text(f'source = "invented"\nresin = "sample-36"\n{text}', "utf-8")
    found = asked(capsys, str(path), "--cup", "paper-150", "--air", "22degC")
    (batch,) = found["batches"]
    assert "; fillet (57.2 g), thicken in 3 cups; tape 2" in batch["for"]


def test_a_batch_without_a_working_time_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    cloth = ("--area", "0.01m2", "--fabric", "300 g/m2", "--resin", "sample-36", "--air", "22degC")
    found = asked(capsys, *cloth)
    (batch,) = found["batches"]
    assert (batch["mass_g"] < 5, batch["working_min"]) == (True, None)
    assert any(
        "No working time for batch 1: the model was checked for" in n for n in found["notes"]
    )
    larger = asked(capsys, *cloth, "--plies", "9")
    assert larger["batches"][0]["working_min"] is not None
    assert not any("No working time" in note for note in larger["notes"])


def test_plies_that_are_chosen_stay_with_those_that_they_are_wetted_with(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """As the kits are cut and tagged: 4-5, 6-7 and 8-9."""
    panel = str(Path(__file__).parents[2] / "profiles/layups/demo-panel.toml")
    found = asked(capsys, panel, "--ply", "5-9", "--cup", "paper-150")
    parts = [[(p["plies"], p["whole"]) for p in b["parts"]] for b in found["batches"]]
    assert parts == [[([5], True)], [([6, 7], True)], [([8, 9], True)]]


def test_of_each_portion_that_is_divided_it_is_told_how_much(
    capsys: pytest.CaptureFixture[str],
) -> None:
    panel = str(Path(__file__).parents[2] / "profiles/layups/demo-panel.toml")
    words = ("--resin", "sample-36", "--cup", "plastic-500", "--air", "22degC")
    told = [batch["for"] for batch in asked(capsys, panel, *words)["batches"]]
    assert not any("a part of plies 1-2" in one for one in told)
    assert any(re.search(r"a part of ply 1 \([0-9.]+ g\) and a part of ply 2 \(", t) for t in told)
