"""Sheets of tags and the meanings of numbered ones, by the command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image
from support.command import one_sentence

from mixer.app.files.folders import find
from mixer.app.files.profiles import load_resin
from mixer.app.tags import tag_meanings
from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.cli import main
from mixer.plan.tags import Jug, Kit, Numbered, payload, read

Capture = pytest.CaptureFixture[str]
KIT = Kit("rib 3", (1, 2), 0.5, 200.0)


def scanned(sheet: Path) -> list[str]:
    with Image.open(sheet) as picture:
        return [
            code.text
            for code in zxingcpp.read_barcodes(
                picture.convert("L"), formats=zxingcpp.BarcodeFormat.QRCode
            )
        ]


def test_jugs_tags_are_told_and_a_profile_with_them_knows_what_is_scanned(
    tmp_path: Path, capsys: Capture
) -> None:
    mine, sheet = tmp_path / "mine.toml", tmp_path / "jugs.png"
    text = find("resins", "sample-tinted").read_text(encoding="utf-8")
    mine.write_text(
        text.replace('name = "resin"', 'name = "resin"\ntag = "R 17"'), encoding="utf-8"
    )
    assert main(["tags", "jugs", "--resin", str(mine), "--to", str(sheet)]) == 0
    out = capsys.readouterr().out
    codes = scanned(sheet)
    assert sorted(codes)[0] == "R 17"
    assert {read(code) for code in codes if code != "R 17"} == {
        Jug("mine", "pigment"),
        Jug("mine", "hardener"),
    }
    assert "3 cards on 1 page" in out
    assert "its label comes first" in out
    for name, tag in re.findall('under name = "(.*)" write tag = "(.*)"', out):
        text = text.replace(f'name = "{name}"', f'name = "{name}"\ntag = "{tag}"')
    mine.write_text(text, encoding="utf-8")
    tags = [component.tag for component in load_resin(str(mine)).components]
    assert set(tags[1:]) == set(codes) - {"R 17"}
    assert tags[0] is None


def test_without_a_name_the_jugs_are_those_of_the_users_own_resins(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path))
    words = ["tags", "jugs", "--to"]
    assert main([*words, str(tmp_path / "none.png")]) == 2
    assert "whose jugs? give --resin NAME or FILE" in capsys.readouterr().err
    (tmp_path / "resins").mkdir()
    for name in ("fast", "slow"):
        mine = find("resins", "sample-36", (find("resins", "sample-36").parents[1],))
        (tmp_path / "resins" / f"{name}.toml").write_bytes(mine.read_bytes())
    assert main([*words, str(tmp_path / "all.png")]) == 0
    assert main(["resin", "confirm", "slow", "--ratio", "100:36", "--by", "weight"]) == 0
    assert main([*words, str(tmp_path / "one.png")]) == 0
    drawn = [sorted(scanned(tmp_path / f"{name}.png")) for name in ("all", "one")]
    of = [sorted({getattr(read(code), "resin", "") for code in codes}) for codes in drawn]
    assert of == [["fast", "slow"], ["slow"]]


def test_a_layups_kits_are_drawn_and_carry_all_that_sizing_needs(
    tmp_path: Path, capsys: Capture
) -> None:
    sheet = tmp_path / "kits.png"
    assert main(["tags", "demo-panel", "--to", str(sheet)]) == 0
    out = capsys.readouterr().out
    kits = sorted((read(code) for code in scanned(sheet)), key=lambda kit: getattr(kit, "plies", 0))
    assert [getattr(kit, "plies", None) for kit in kits] == [
        *((1,), (2,), (3,), (4, 5), (6, 7), (8, 9), (10,), (11,), (12,), (13,))
    ]
    # Two plies of tape 76 mm wide and 650 g/m2, of 1.2 m and 1.1 m: 0.1748 m2.
    assert kits[3] == Kit("demo-panel", (4, 5), 0.1748, 650.0)
    # The bias tape of its corners differs more from roll to roll (bid-tape-200).
    assert kits[6] == Kit("demo-panel", (10,), 0.0175, 200.0, "", 0.08)
    assert "10 cards on 1 page" in out
    assert "No tag for slurry on the core, rib joint, rib fillets, peel ply" in out


def test_plies_that_are_chosen_are_one_kit(tmp_path: Path, capsys: Capture) -> None:
    sheet = tmp_path / "kits.png"
    words = ["--ply", "1-2, 13", "--ply", "4-9"]
    assert main(["tags", "demo-panel", *words, "--to", str(sheet)]) == 0
    # 0.96 m2 of 300 g/m2 and 0.0175 of 200: 298.2 g/m2 of both together.
    assert {read(code) for code in scanned(sheet)} == {
        Kit("demo-panel", (1, 2, 13), 0.9775, 298.2),
        Kit("demo-panel", (4, 5, 6, 7, 8, 9), 0.4332, 650.0),
    }


def test_a_method_that_is_not_the_usual_one_is_on_the_tag(tmp_path: Path, capsys: Capture) -> None:
    mine, sheet = tmp_path / "rib.toml", tmp_path / "a.png"
    text = find("layups", "demo-panel").read_text(encoding="utf-8")
    mine.write_text(text.replace('method = "squeegee"', 'method = "brush"'), encoding="utf-8")
    assert main(["tags", str(mine), "--ply", "1", "--to", str(sheet)]) == 0
    assert [read(code) for code in scanned(sheet)] == [Kit("rib", (1,), 0.48, 300.0, "brush")]
    assert "sized by the method brush" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["brush", "squeegee", "BRUSH"])
def test_a_method_that_the_bench_would_take_for_another_is_not_on_a_tag(
    name: str, tmp_path: Path, capsys: Capture
) -> None:
    rib, sheet, own = tmp_path / "rib.toml", tmp_path / "a.png", tmp_path / f"{name}.toml"
    text = find("layups", "demo-panel").read_text(encoding="utf-8")
    rib.write_text(text.replace('"squeegee"', f'"./{name}.toml"'), encoding="utf-8")
    shipped = find("methods", name.lower()).read_text(encoding="utf-8")
    own.write_text(shipped, encoding="utf-8")
    assert main(["tags", str(rib), "--ply", "1", "--to", str(sheet)]) == 0  # the very same
    capsys.readouterr()
    own.write_text(shipped.replace('rate = "', 'rate = "1'), encoding="utf-8")
    assert own.read_text(encoding="utf-8") != shipped
    assert main(["tags", str(rib), "--ply", "1", "--to", str(sheet)]) == 2
    told = capsys.readouterr().err
    assert f"would be {name.lower()} on a tag, by which the bench knows a method with other" in told
    assert one_sentence(told)
    other = tmp_path / "mine.toml"
    own.rename(other)
    sheet.unlink()
    rib.write_text(text.replace('"squeegee"', '"./mine.toml"'), encoding="utf-8")
    assert main(["tags", str(rib), "--ply", "1", "--to", str(sheet)]) == 0
    assert "sized by the method mine, which has to be there" in capsys.readouterr().out


def test_cloth_that_hardly_differs_from_its_label_has_a_tag(
    tmp_path: Path, capsys: Capture
) -> None:
    layup = tmp_path / "fine.toml"
    text = find("fabrics", "bid-300").read_text("utf-8")
    kept = [line for line in text.splitlines() if not line.startswith("areal_spread")]
    even = "\n".join([*kept, 'areal_spread = "0.04 %"'])
    (tmp_path / "even.toml").write_text(even, "utf-8")
    ply = '[[step.ply]]\nfabric = "./even.toml"\nshape = "disc"\ndiameter = "1 m"\n'
    layup.write_text(f'source = "x"\n[[step]]\nname = "s"\nkind = "plies"\n{ply}', "utf-8")
    assert main(["tags", str(layup), "--to", str(tmp_path / "a.png")]) == 0
    assert "1 card on 1 page" in capsys.readouterr().out


def test_a_kit_of_too_many_single_plies_and_a_resin_named_twice(
    tmp_path: Path, capsys: Capture
) -> None:
    many, sheet = tmp_path / "many.toml", tmp_path / "a.png"
    ply = '[[step.ply]]\nfabric = "bid-300"\nshape = "disc"\ndiameter = "1 m"\ncount = 200\n'
    many.write_text(f'source = "x"\n[[step]]\nname = "s"\nkind = "plies"\n{ply}', "utf-8")
    odd = ",".join(str(number) for number in range(1, 200, 2))
    assert main(["tags", str(many), "--ply", odd, "--to", str(sheet)]) == 2
    assert "give a shorter name or fewer plies" in capsys.readouterr().err
    twice = ["--resin", "sample-28", "--resin", "sample-28"]
    assert main(["tags", "jugs", *twice, "--to", str(sheet)]) == 0
    assert "2 cards on 1 page" in capsys.readouterr().out


def test_a_ply_above_those_that_a_tag_tells_is_named_with_its_file(
    tmp_path: Path, capsys: Capture
) -> None:
    many, sheet = tmp_path / "many.toml", tmp_path / "a.png"
    ply = '[[step.ply]]\nfabric = "bid-300"\nshape = "disc"\ndiameter = "1 m"\n'
    plies = f"{ply}count = 999\n{ply}count = 2\n"
    many.write_text(f'source = "x"\n[[step]]\nname = "s"\nkind = "plies"\n{plies}', "utf-8")
    for chosen in ([], ["--ply", "998-1001"], ["--ply", "1000"]):
        assert main(["tags", str(many), *chosen, "--to", str(sheet)]) == 2
        told = capsys.readouterr().err
        assert told.startswith(f"{many}: s, pl")
        assert "'many': no tag tells ply 1000; give plies from 1 to 999, chosen with --ply" in told
        assert one_sentence(told)
    assert main(["tags", str(many), "--ply", "1-999", "--to", str(sheet)]) == 2  # 785 m2
    assert "give 1 cm2 to 100 m2" in capsys.readouterr().err
    assert main(["tags", str(many), "--ply", "900-999", "--to", str(sheet)]) == 0
    assert "No tag for plies 1-899, 1000-1001" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("flügel", "cannot be a tag's name; give the letters a to z"),
        ("the upper skin of the left wing, inboard", "characters too long for a tag with all that"),
    ],
)
def test_a_layup_that_no_tag_can_name_is_refused(
    name: str, says: str, tmp_path: Path, capsys: Capture
) -> None:
    odd = tmp_path / f"{name}.toml"
    odd.write_bytes(find("layups", "demo-panel").read_bytes())
    assert main(["tags", str(odd), "--to", str(tmp_path / "a.png")]) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"{odd}: skin, ply 1: ")
    assert says in told
    assert f"; a kit has the name of its layup's file, {name}: rename that" in told
    assert one_sentence(told)


def test_numbered_tags_fill_the_page_of_the_cards(tmp_path: Path) -> None:
    sheet = tmp_path / "cards.png"
    assert main(["tags", "cards", "--to", str(sheet)]) == 0
    codes = scanned(sheet)
    assert {*CARDS, *OF_THE_WINDOW, payload(Numbered(1))} <= set(codes)
    assert len(codes) == 12


def test_cards_and_numbered_tags_are_on_one_sheet(tmp_path: Path, capsys: Capture) -> None:
    sheet = tmp_path / "cards.png"
    words = ["--numbers", "41-42", "--paper", "letter"]
    assert main(["tags", "cards", "--to", str(sheet), *words]) == 0
    codes = scanned(sheet)
    assert {"go", "hold", "next", "usedup"} < set(codes)
    assert {payload(Numbered(41)), payload(Numbered(42))} < set(codes)
    assert f"{len(codes)} cards on 1 page are in" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["jugs"], "give --resin"),
        (["jugs", "--resin", "no-such"], "'no-such' is no resin"),
        (["jugs", "--resin", "sample-36", "--numbers", "1-5"], "--numbers is for"),
        (["cards", "--resin", "sample-36"], "--resin is for"),
        (["cards", "--numbers", "5-1"], "give 1-5 or the like"),
        (["cards", "--numbers", "0"], "give 1-5 or the like"),
        (["cards", "--numbers", "1-1000"], "give 1-5 or the like"),
        (["cards", "--numbers", "two"], "give 1-5 or the like"),
        (["wing.toml"], "wing.toml: cannot be read"),
        (["no-such"], "give one of demo-panel"),
        (
            ["demo-panel", "--ply", "14"],
            "demo-panel: --ply: ply 14 is not in demo-panel; accepted: 1 to",
        ),
        (["demo-panel", "--ply", "two"], "demo-panel: --ply: plies: 'two' was read; give their"),
        (["demo-panel", "--numbers", "1-5"], "--numbers for the cards"),
        (["cards", "--ply", "1-2"], "--ply is for the kits of a layup"),
        (["cards", "--paper", "a3"], "a3"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_one_sentence(
    tmp_path: Path, capsys: Capture, words: list[str], says: str
) -> None:
    sheet = tmp_path / "sheet.png"
    try:
        status = main(["tags", *words, "--to", str(sheet)])
    except SystemExit as left:
        status = int(str(left.code))
    told = capsys.readouterr()
    assert (status, told.out, sheet.exists()) == (2, "", False)
    assert says in told.err
    assert one_sentence(told.err)


def test_a_resin_whose_name_no_tag_can_say_is_refused_until_its_profile_has_tags(
    tmp_path: Path, capsys: Capture
) -> None:
    odd = tmp_path / "harz-ö.toml"
    text = find("resins", "sample-36").read_text(encoding="utf-8")
    odd.write_text(text, encoding="utf-8")
    assert main(["tags", "jugs", "--resin", str(odd), "--to", str(tmp_path / "a.png")]) == 2
    assert "cannot be a tag's name" in capsys.readouterr().err
    for name in ("resin", "hardener"):
        text = text.replace(f'name = "{name}"', f'name = "{name}"\ntag = "{name} 17"')
    odd.write_text(text, encoding="utf-8")
    assert main(["tags", "jugs", "--resin", str(odd), "--to", str(tmp_path / "a.png")]) == 0


def test_a_place_that_takes_no_file_is_said(tmp_path: Path, capsys: Capture) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    for to in (tmp_path / "none" / "a.pdf", tmp_path / "file" / "a.pdf"):
        assert main(["tags", "cards", "--to", str(to)]) == 2
        said = capsys.readouterr().err
        assert one_sentence(said)
        assert f"{to} cannot be written" in said
        assert "give a place that is there" in said


# -- meanings --------------------------------------------------------------------------------


def test_a_numbered_tag_is_given_a_meaning_and_another(capsys: Capture) -> None:
    said = []
    for words in (["7"], ["7", "left wing top"], ["7"], ["7", "rib 3"], ["7", ""], ["7"]):
        assert main(["tag", *words]) == 0
        said.append(capsys.readouterr().out.strip())
    assert said == [
        "Tag 7: no meaning.",
        "Tag 7: left wing top.",
        "Tag 7: left wing top.",
        "Tag 7: rib 3. It was: left wing top.",
        "Tag 7: no meaning. It was: rib 3.",
        "Tag 7: no meaning.",
    ]


def test_a_numbered_tag_may_hang_on_a_kit(capsys: Capture) -> None:
    assert main(["tag", "7", "--kit", "demo-panel", "--ply", "4-5"]) == 0
    assert capsys.readouterr().out == "Tag 7: kit demo-panel, plies 4-5.\n"
    kit = tag_meanings.kit_in(tag_meanings.meaning(7, tag_meanings.default_store()))
    assert kit == Kit("demo-panel", (4, 5), 0.1748, 650.0)
    assert main(["tag", "7", "--kit", "demo-panel", "--ply", "4", "--ply", "5"]) == 0
    assert capsys.readouterr().out == "Tag 7: kit demo-panel, plies 4-5.\n"
    assert main(["tag", "7"]) == 0
    assert main(["tag", "7", "--kit", "demo-panel"]) == 0
    assert capsys.readouterr().out == (
        "Tag 7: kit demo-panel, plies 4-5.\n"
        "Tag 7: kit demo-panel, plies 1-13. It was: kit demo-panel, plies 4-5.\n"
    )


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["7", "rib", "--kit", "demo-panel"], "leave one of them out"),
        (["7", "--ply", "1-4"], "--ply is of a kit"),
        (["7", "--kit", "demo-panel", "--ply", "14"], "ply 14 is not in demo-panel"),
        (["7", payload(Numbered(8))], "may mean a kit"),
        (["7", payload(KIT)[:-1]], "did not come as it was printed"),
    ],
)
def test_what_is_no_kit_is_no_meaning(words: list[str], says: str, capsys: Capture) -> None:
    assert main(["tag", *words]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert one_sentence(told)


@pytest.mark.parametrize(
    "words", [["0"], ["1000", "rib"], ["7", "x" * 61], ["7", "a\nb"], ["7", "\x1b[2J"]]
)
def test_what_is_no_number_or_no_meaning_is_refused(words: list[str], capsys: Capture) -> None:
    assert main(["tag", *words]) == 2
    assert one_sentence(capsys.readouterr().err)
    assert not tag_meanings.default_store().exists()


@pytest.mark.parametrize(
    "data", [b"{", b"[]", b'{"v": 2, "tags": {}}', b'{"v": 1, "tags": {"7": 1}}', b"\xff"]
)
def test_meanings_that_are_damaged_are_said_and_not_written_over(
    data: bytes, capsys: Capture
) -> None:
    store = tag_meanings.default_store()
    store.parent.mkdir(parents=True)
    store.write_bytes(data)
    for words in (["7"], ["7", "rib 3"]):
        assert main(["tag", *words]) == 2
        assert "is damaged" in capsys.readouterr().err
    assert store.read_bytes() == data


def test_a_meaning_that_cannot_be_kept_is_said(capsys: Capture) -> None:
    folder = tag_meanings.default_store().parent
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("", encoding="utf-8")  # a file where the folder should be
    assert main(["tag", "7", "rib 3"]) == 2
    assert one_sentence(capsys.readouterr().err)


def test_no_ply_is_in_two_kits_and_those_in_none_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["tags", "demo-panel", "--to", str(tmp_path / "kits.png")]
    assert main([*words, "--ply", "1-3", "--ply", "3-5"]) == 2
    assert "ply 3 is in two kits; give each ply to one" in capsys.readouterr().err
    assert main([*words, "--ply", "1-3", "--ply", "4-5"]) == 0
    assert "No tag for plies 6-" in capsys.readouterr().out
