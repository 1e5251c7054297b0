"""``cupside layup afterwards`` and ``cupside record wiped``: a layup by its cups and rags."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support.command import one_sentence
from support.facts import fact, live, poured

from mixer.cli import main
from mixer.record.envelope import Entry
from mixer.record.journal import Journal

Capture = pytest.CaptureFixture[str]
PANEL = """
source = "invented for a test"
[[step]]
name = "skin"
kind = "plies"
[[step.ply]]
fabric = "bid-300"
shape = "rectangle"
length = "500 mm"
width = "400 mm"
count = 2
"""
PEEL = """
[[step]]
name = "peel ply"
kind = "peel ply"
surface = "peel-ply"
shape = "rectangle"
length = "500 mm"
width = "400 mm"
"""


def batch(number: int, layup: str, kits: object = None, **closed: Any) -> list[Entry]:
    """60 g for this layup, in cup ``number``, closed so."""
    first, *more = poured(number)
    said = first.data | {"layup": layup, "plies": "1-2", "kits": kits}
    facts = [fact("opened", number, **said), *more, live(number, cup=number)]
    return facts + ([fact("closed", number, 900_000, cup=number, **closed)] if closed else [])


def kit(
    layup: str | None, plies: str | None, cloth_g: int, part: float | None, by: str = "squeegee"
) -> dict[str, Any]:
    """As a batch that was for this part of it keeps it; None: it does not say."""
    kept = {"layup": layup, "plies": plies, "cloth_ug": cloth_g * 1_000_000, "method": by}
    return kept | {"weighed": True} | ({} if part is None else {"part": part})


def keep(record: Path, layup: str, *kits: dict[str, Any], first: int = 11) -> None:
    """A batch of 60 g for each of these kits, its cup used up."""
    with Journal.open(record) as journal:
        for number, one in enumerate(kits, first):
            journal.append(batch(number, layup, [one], how="used-up", left_ug=None))


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Two cups for "panel", of which one was left 9 g; one for it and a rib; one of a rib's."""
    path = tmp_path / "boat.cupside"
    (tmp_path / "panel.toml").write_text(PANEL, encoding="utf-8")
    (tmp_path / "panel-peeled.toml").write_text(PANEL + PEEL, encoding="utf-8")
    kits = [kit("rib 4", "1-2", 50, 1.0)]
    with Journal.open(path) as journal:
        journal.append(batch(1, "Panel", how="used-up", left_ug=None))
        journal.append(batch(2, "panel", how="left", left_ug=9_000_000))
        journal.append(batch(3, "rib 3; panel 2", how="used-up", left_ug=None))
        journal.append(batch(4, "rib 4", kits, how="used-up", left_ug=None))
        journal.append(batch(5, "rib 5"))
    return path


def said(record: Path, capsys: Capture, *words: str) -> str:
    capsys.readouterr()
    assert main([*words, "--record", str(record)]) == 0
    return capsys.readouterr().out


def found(record: Path, capsys: Capture, *words: str) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(
        said(record, capsys, "layup", "afterwards", *words, "--json")
    )
    return answer


def test_a_layup_of_two_cups_and_a_rag(record: Path, capsys: Capture) -> None:
    file = str(record.parent / "panel.toml")
    before = found(record, capsys, file)
    # 0.4 m2 of 300 g/m2, a roll differs by 5 %: 114 to 126 g. 60 g but 2 to 8 % of it, and 51 g
    # but up to 8 % of 60 g: 101.4 to 109.8 g.
    assert before["cloth_g"] == pytest.approx([114, 126])
    assert before["laid_g"] == pytest.approx([101.4, 109.8])
    assert (before["wiped_g"], before["resin_fraction"][0]) == (None, 0)
    assert any("Nobody weighed what was wiped" in note for note in before["notes"])
    told = said(record, capsys, "record", "wiped", "--layup", "panel", "--mass", "22 g")
    assert "batch 2 has wiped-1, panel: 22 g" in told
    after = found(record, capsys, file)
    assert after["wiped_g"] == [22, 22]
    assert after["resin_g"] == pytest.approx([79.4, 87.8])
    assert after["resin_fraction"] == pytest.approx([79.4 / 205.4, 87.8 / 201.8], abs=1e-4)
    assert after["says"].startswith("Not shown to be dry: that is the most")
    text = said(record, capsys, "layup", "afterwards", file)
    assert text.startswith("panel: resin 39% to 44% by weight.\nNot shown to be dry")


def test_what_is_wiped_again_adds_up_and_can_be_corrected(record: Path, capsys: Capture) -> None:
    for grams in ("12g", "10g"):
        said(record, capsys, "record", "wiped", "2", "--mass", grams)
    file = str(record.parent / "panel.toml")
    assert found(record, capsys, file)["wiped_g"] == [22, 22]
    words = ["--field", "wiped-2", "--value", "70 g", "--reason", "a slip"]
    assert "is 70 g now, and was 10 g" in said(record, capsys, "record", "correct", "2", *words)
    dry = found(record, capsys, file)
    # 109.8 - 82 = 27.8 g in 114 g of cloth: 20 %.
    assert dry["resin_fraction"][1] == pytest.approx(27.8 / 141.8, abs=1e-4)
    assert "Dry in places" in dry["says"]
    assert "wiped" in said(record, capsys, "record", "show", "2")
    to = record.parent / "batches.csv"
    said(record, capsys, "record", "export", "--to", str(to))
    assert "12 g (" in to.read_text("utf-8")


def test_what_the_peel_ply_took_is_counted(record: Path, capsys: Capture) -> None:
    said(record, capsys, "record", "wiped", "2", "--mass", "0g")
    file = str(record.parent / "panel-peeled.toml")
    bare = found(record, capsys, str(record.parent / "panel.toml"), "--layup", "panel")
    peeled = found(record, capsys, file, "--layup", "panel")
    low, high = peeled["elsewhere_g"]
    assert 0 < low < high
    assert peeled["resin_g"] == pytest.approx(
        [bare["resin_g"][0] - high, bare["resin_g"][1] - low], abs=0.01
    )


def test_peel_ply_that_may_be_still_to_come_makes_nothing_dry(
    record: Path, capsys: Capture
) -> None:
    file = record.parent / "panel-more.toml"
    file.write_text((PANEL + PEEL).replace("count = 2", "count = 3"), encoding="utf-8")
    answer = found(record, capsys, str(file), "--layup", "panel")
    assert "No batch is for plies 3: they are not counted." in answer["notes"]
    assert answer["elsewhere_g"][0] == 0
    assert answer["cloth_g"] == pytest.approx([114, 126])
    assert answer["resin_g"] == pytest.approx([0, 109.8])


def test_a_cup_of_two_layups_gives_each_what_it_may_have_had(record: Path, capsys: Capture) -> None:
    said(record, capsys, "record", "wiped", "3", "--mass", "5g")
    answer = found(record, capsys, "--layup", "rib 3", "--cloth", "40g")
    assert answer["laid_g"] == pytest.approx([0, 58.8])
    assert answer["wiped_g"] == [0, 5]
    assert any("served panel 2 too" in note for note in answer["notes"])


def test_the_cloth_of_scanned_kits_stands_in_the_record(record: Path, capsys: Capture) -> None:
    answer = found(record, capsys, "--layup", "RIB 4")
    assert answer["cloth_g"] == [50, 50]
    assert answer["resin_fraction"] == pytest.approx([0, 58.8 / 108.8], abs=1e-4)


def test_a_kit_that_two_batches_were_for_is_counted_once(record: Path, capsys: Capture) -> None:
    """110 g of cloth without a tag are more than one batch can hold: it was typed twice."""
    keep(record, "boom", kit(None, None, 110, 0.5), kit(None, None, 110, 0.5))
    said(record, capsys, "record", "wiped", "--layup", "boom", "--mass", "40g")
    answer = found(record, capsys, "--layup", "boom")
    assert answer["cloth_g"] == [110, 110]
    # 117.6 g at the most, but 40: 77.6 g in 110 g of cloth, and not in 220.
    assert answer["resin_fraction"][1] == pytest.approx(77.6 / 187.6, abs=1e-4)
    assert answer["says"].startswith("Not shown to be dry")


def test_a_kit_of_which_a_part_is_still_to_be_wetted_is_not_dry(
    record: Path, capsys: Capture
) -> None:
    keep(record, "boom", kit(None, None, 200, 0.5))
    keep(record, "mast", kit("mast", "1-2", 200, 0.5), first=12)
    file = record.parent / "mast.toml"
    file.write_text(PANEL.replace("400 mm", "667 mm"), encoding="utf-8")  # 200 g, 190 to 210
    for words, cloth_g in (
        (["--layup", "boom"], [100, 200]),
        (["--layup", "boom", "--cloth", "200g"], [100, 200]),
        (["--layup", "mast"], [100, 200]),
        ([str(file)], [100, 210.105]),
    ):
        answer = found(record, capsys, *words)
        assert answer["cloth_g"] == pytest.approx(cloth_g, abs=0.01)
        assert answer["says"].startswith("Not shown to be dry")
        assert "A part of the kits may be in no batch yet: it may still be dry." in answer["notes"]


def test_where_the_record_does_not_say_the_part_the_range_holds_both(
    record: Path, capsys: Capture
) -> None:
    keep(record, "boom", kit(None, None, 110, None), kit(None, None, 110, None))
    # 60 g are by squeegee at least for 60 * 0.92 / 1.2 = 46 g of cloth: twice that, or two kits.
    assert found(record, capsys, "--layup", "boom")["cloth_g"] == pytest.approx([92, 220])


def test_the_method_of_the_kits_counts_without_the_layups_file(
    record: Path, capsys: Capture
) -> None:
    keep(record, "boom", kit("boom", "1", 55, 1, "brush"))
    said(record, capsys, "record", "wiped", "--layup", "boom", "--mass", "23g")
    answer = found(record, capsys, "--layup", "boom")
    assert answer["methods"] == ["brush"]
    # 4 to 15 % of 60 g are lost by brush; 34.6 g of 89.6 are 38.6 %, and 40 should stay by it.
    assert answer["laid_g"] == pytest.approx([51, 57.6])
    assert "less resin than the 40% that brush should leave" in answer["says"]
    assert "wetted out by: brush" in said(record, capsys, "layup", "afterwards", "--layup", "boom")


def test_where_nobody_said_the_method_it_may_be_any(record: Path, capsys: Capture) -> None:
    answer = found(record, capsys, "--layup", "rib 4", "--cloth", "50g")
    assert answer["methods"] == ["squeegee"]
    said(record, capsys, "close", "5", "--used-up")
    keep(record, "boom", kit("boom", "1", 55, 1, "brush"), kit("boom", "2", 55, 1, "none.such"))
    for layup, methods in (("rib 5", ["brush", "squeegee"]), ("boom", ["brush", "squeegee"])):
        answer = found(record, capsys, "--layup", layup, "--cloth", "50g")
        assert answer["methods"] == methods
        each = len(answer["batches"])  # 2 % of 60 g are lost at the least, 15 at the most
        assert answer["laid_g"] == pytest.approx([51 * each, 58.8 * each])
        assert any("brush or squeegee: it may be any of these" in n for n in answer["notes"])


def test_kits_and_file_that_say_another_method_may_each_be_right(
    record: Path, capsys: Capture
) -> None:
    keep(record, "mast", kit("mast", "1-2", 120, 1, "brush"))
    file = record.parent / "mast.toml"
    file.write_text(PANEL, encoding="utf-8")
    answer = found(record, capsys, str(file))
    assert answer["methods"] == ["brush", "squeegee"]
    assert answer["laid_g"] == pytest.approx([51, 58.8])
    # A method that is given by its path is by its name on the tags.
    text = (Path(__file__).parents[2] / "profiles/methods/brush.toml").read_text("utf-8")
    (record.parent / "Dab.toml").write_text(text, "utf-8")
    keep(record, "keel", kit("keel", "1-2", 120, 1, "dab"), first=12)
    file = record.parent / "keel.toml"
    file.write_text(f'method = "{record.parent / "Dab.toml"}"\n{PANEL}', encoding="utf-8")
    assert found(record, capsys, str(file))["methods"] == ["Dab"]


def test_while_a_cup_is_open_more_may_be_to_come(record: Path, capsys: Capture) -> None:
    answer = found(record, capsys, "--layup", "rib 5", "--cloth", "250g")
    # 60 g in 250 g of cloth are 19 %, and another batch may be on its way.
    assert answer["resin_fraction"][1] == pytest.approx(60 / 310, abs=1e-4)
    assert answer["says"].startswith("Not enough yet: with all that can be in it the cloth has")
    said(record, capsys, "close", "5", "--used-up")
    answer = found(record, capsys, "--layup", "rib 5", "--cloth", "250g")
    assert answer["says"].startswith("Dry in places")


def test_what_was_parted_is_counted_once(record: Path, capsys: Capture) -> None:
    more = fact(
        "parted",
        6,
        50_000,
        from_ug=82_300_000,
        gross_ug=72_300_000,
        amounts_ug=[44_100_000, 15_900_000],
    )
    with Journal.open(record) as journal:
        first, *others = batch(6, "rib 6", how="used-up", left_ug=None)
        journal.append([first, more, *others])
    answer = found(record, capsys, "--layup", "rib 6", "--cloth", "40g")
    assert answer["laid_g"] == pytest.approx([51, 58.8])  # 60 g but 2 to 15 %


def test_a_live_cup_may_be_anywhere_yet(record: Path, capsys: Capture) -> None:
    answer = found(record, capsys, "--layup", "rib 5", "--cloth", "40g")
    assert answer["laid_g"] == [0, 60]
    assert "Cup 5 of batch 5 is not closed yet." in answer["notes"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["layup", "afterwards"], "Give the layup's file, or --layup"),
        (["layup", "afterwards", "--layup", "wing"], "no batch of 'wing' is in the record"),
        (["layup", "afterwards", "--layup", "rib 3"], "give its file, or --cloth"),
        (["layup", "afterwards", "--layup", "rib 3", "--cloth", "0g"], "cloth: '0g' is nothing"),
        (["record", "wiped", "2", "--mass", "11kg"], "give from 0 g to 10 kg"),
        (["record", "wiped", "2", "--mass=-5g"], "mass: '-5g' was read; give from 0 g to 10 kg"),
        (["record", "wiped", "2", "--mass", "1e9kg"], "give from 0 g to 10 kg"),
        (["record", "wiped", "2", "--mass", "nan g"], "mass: 'nan g' is not a number with a unit"),
        # 60 g each: of batches 1 and 2 for the panel, of 3 for two layups, of 5 for one.
        (["record", "wiped", "2", "--mass", "121g"], "give from 0 g to the 120.0 g that were"),
        (["record", "wiped", "--layup", "Panel", "--mass", "5kg"], "to the 120.0 g that were"),
        (["record", "wiped", "--layup", "rib 3", "--mass", "61g"], "to the 60.0 g that were"),
        (["record", "wiped", "5", "--mass", "9kg"], "give from 0 g to the 60.0 g that were"),
        (["record", "wiped", "2", "--mass", "a lot"], "mass: 'a lot'"),
        (["record", "wiped", "--mass", "1g"], "Give the number of a batch"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(
    record: Path, capsys: Capture, words: list[str], says: str
) -> None:
    assert main([*words, "--record", str(record)]) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert one_sentence(told.err)


def test_what_was_wiped_off_is_corrected_to_no_more_than_was_mixed(
    record: Path, capsys: Capture
) -> None:
    said(record, capsys, "record", "wiped", "--layup", "panel", "--mass", "22g")
    words = ["record", "correct", "2", "--field", "wiped-1", "--reason", "a slip"]
    for value in ("121g", "-1g"):
        assert main([*words, f"--value={value}", "--record", str(record)]) == 2
        told = capsys.readouterr().err
        assert "give from 0 g to" in told
        assert one_sentence(told)
    assert "is 120 g now" in said(record, capsys, *words, "--value", "120g")
    assert "is unknown now" in said(record, capsys, *words, "--value", "unknown")


def test_more_wiped_off_than_was_laid_on_is_no_balance(record: Path, capsys: Capture) -> None:
    said(record, capsys, "record", "wiped", "--layup", "panel", "--mass", "115g")  # of 109.8
    words = ["layup", "afterwards", str(record.parent / "panel.toml"), "--record", str(record)]
    assert main(words) == 2
    told = capsys.readouterr().err
    assert one_sentence(told)
    assert "one of the weights is wrong" in told


def test_a_cup_that_went_into_a_layup_of_its_own_counts_there_alone(
    record: Path, capsys: Capture
) -> None:
    """Of the 60 g for "rib 5" 20 g went, in cup 1, into "rib 6"; both cups are used up."""
    said(record, capsys, "split", "5", "--into", "20g", "--layup", "rib 6")
    for cup in ("1", "5"):
        said(record, capsys, "close", cup, "--used-up")
    # 20 g but 2 to 15 % of it, as nobody said by what method, and 40 g so.
    rib_6 = found(record, capsys, "--layup", "rib 6", "--cloth", "50g")
    assert rib_6["laid_g"] == pytest.approx([17, 19.6])
    rib_5 = found(record, capsys, "--layup", "rib 5", "--cloth", "50g")
    assert rib_5["laid_g"] == pytest.approx([34, 39.2])
    assert not any("served" in note for note in (*rib_5["notes"], *rib_6["notes"]))
