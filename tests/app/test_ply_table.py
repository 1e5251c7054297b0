"""A table of plies becomes the layup that it says, line by line."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from mixer.app.files.layup_file import load_layup
from mixer.app.files.ply_table import import_table
from mixer.app.files.toml_table import ProfileError
from mixer.app.sentence import NotDone
from mixer.plan.layup import Plies

TABLE = """step,fabric,orientation,shape,length,width,count
skin,bid-300,45 deg,rectangle,1.2 m,400 mm,2
skin,uni-220,0 deg,rectangle,1.2 m,16 in,
"cap, upper",uni-tape-650,,tape,1.2 m,,6
"""


def table(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "plies.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def refusal(path: Path) -> str:
    with pytest.raises(ProfileError) as caught:
        load_layup(str(path))
    assert str(caught.value).isprintable()
    return str(caught.value)


def test_a_table_as_it_is_read(tmp_path: Path) -> None:
    layup = load_layup(str(table(tmp_path, TABLE)))
    assert [(step.name, len(step.plies)) for step in layup.steps] == [  # type: ignore[union-attr]
        ("skin", 3),
        ("cap, upper", 6),
    ]
    areas = [ply.area_m2 for ply in layup.plies]
    assert areas == pytest.approx([0.48, 0.48, 1.2 * 0.4064, *[1.2 * 0.076] * 6])


@pytest.mark.parametrize(
    "text",
    [
        TABLE.replace("\n", "\r\n"),
        "\ufeff" + TABLE,
        TABLE.replace("cap, upper", "cap upper").replace(",", ";"),
        TABLE.replace("skin,uni", "\nskin,uni").replace("step,fabric", " Step , FABRIC"),
    ],
)
def test_as_spreadsheets_write_it(tmp_path: Path, text: str) -> None:
    plain = load_layup(str(table(tmp_path, TABLE)))
    other = load_layup(str(table(tmp_path, text)))
    assert [p.area_m2 for p in other.plies] == [p.area_m2 for p in plain.plies]


def test_what_is_imported_is_the_same_layup(tmp_path: Path) -> None:
    path, to = table(tmp_path, TABLE), tmp_path / "new.toml"
    imported = import_table(path, to)
    assert [s.plies for s in imported.steps] == [  # type: ignore[union-attr]
        s.plies
        for s in load_layup(str(path)).steps  # type: ignore[union-attr]
    ]
    assert load_layup(str(to)).steps == imported.steps
    assert to.read_text("utf-8").startswith('source = "from the table plies.csv')


def test_a_step_written_once_for_its_lines_is_one_step(tmp_path: Path) -> None:
    spar = "spar,uni-tape-650,tape,1 m\n" + ",uni-tape-650,tape,1 m\n,,,\n" * 3
    path = table(tmp_path, f"step,fabric,shape,length\n{spar}")
    imported = import_table(path, tmp_path / "new.toml")
    for layup in (load_layup(str(path)), imported):
        [step] = layup.steps
        assert isinstance(step, Plies)
        assert (step.name, [len(group) for group in step.groups()]) == ("spar", [2, 2])


@pytest.mark.parametrize("blank", ["\n", " , ,\n", "\r\n"])
def test_a_blank_first_line_is_said(tmp_path: Path, blank: str) -> None:
    said = refusal(table(tmp_path, blank + TABLE))
    assert "plies.csv: line 1: is blank; accepted: the names of the columns in it" in said


def test_before_a_step_is_named_it_is_called_plies(tmp_path: Path) -> None:
    lines = ["", "", "skin", "", "cap", "", "skin"]
    cells = "".join(f"{step},bid-300,disc,1 m\n" for step in lines)
    layup = load_layup(str(table(tmp_path, f"step,fabric,shape,diameter\n{cells}")))
    found = [(step.name, len(step.plies)) for step in layup.steps if isinstance(step, Plies)]
    assert found == [("plies", 2), ("skin", 2), ("cap", 2), ("skin", 1)]


@settings(max_examples=40)
@given(st.text(st.characters(codec="utf-8", exclude_characters='\r\n",;'), min_size=1, max_size=9))
def test_any_name_of_a_step_comes_through(
    tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    folder = tmp_path_factory.getbasetemp()
    to = folder / "named.toml"
    to.unlink(missing_ok=True)
    path = table(folder, TABLE.replace("skin", name))
    if name.strip().isprintable():
        layup = import_table(path, to)
        assert layup.steps[0].name == (name.strip() or "plies")
    else:
        with pytest.raises(ProfileError):
            import_table(path, to)
        assert not to.exists()


PLACES = st.lists(st.sampled_from(["wing", "2025 plans", "..", "ä"]), max_size=4)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PLACES, PLACES, PLACES, st.booleans())
def test_a_cloths_own_path_is_found_wherever_the_layup_is_written_and_checked(
    tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
    cloth: list[str],
    target: list[str],
    elsewhere: list[str],
    whole: bool,
) -> None:
    start = tmp_path_factory.mktemp("shop") / "a" / "b" / "c" / "d" / "e"
    (start / "plans").mkdir(parents=True)
    beside = Path("plans", *cloth, "mine.toml")
    for place in (beside.parent, Path("plans", *target), Path(*elsewhere)):
        (start / place).mkdir(parents=True, exist_ok=True)
    text = (Path(__file__).parents[2] / "profiles/fabrics/bid-300.toml").read_text("utf-8")
    (start / beside).write_text(text, "utf-8")
    named = (start / beside) if whole else Path(*cloth, "mine.toml")
    (start / "plans/plies.csv").write_text(TABLE.replace("bid-300", str(named)), "utf-8")
    with monkeypatch.context() as patch:
        patch.chdir(start)
        to = Path("plans", *target, "new.toml")
        imported = import_table(Path("plans/plies.csv"), to)
        patch.chdir(Path(*elsewhere))
        again = load_layup(os.path.relpath(start / to))
    assert again == imported
    assert {ply.fabric.name for ply in again.plies} >= {"mine"}
    assert (str(start) in (start / to).read_text("utf-8")) == whole  # can be moved as a whole


def test_a_path_without_an_ending_stays_a_path(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "profiles/fabrics/bid-300.toml").read_text("utf-8")
    (tmp_path / "bid-200").write_text(text, "utf-8")
    path = table(tmp_path, TABLE.replace("bid-300", "./bid-200"))
    assert import_table(path, tmp_path / "new.toml").plies[0].fabric.areal_g_m2 == 300


def test_a_layup_that_cannot_be_read_is_not_left_behind(tmp_path: Path) -> None:
    odd = tmp_path / "new\nline"
    odd.mkdir()
    text = (Path(__file__).parents[2] / "profiles/fabrics/bid-300.toml").read_text("utf-8")
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    path = table(tmp_path, TABLE.replace("bid-300", "mine.toml"))
    with pytest.raises(ProfileError):
        import_table(path, odd / "new.toml")
    assert list(odd.iterdir()) == []


def test_nothing_is_written_over(tmp_path: Path) -> None:
    path, to = table(tmp_path, TABLE), tmp_path / "there.toml"
    to.write_text("mine", "utf-8")
    with pytest.raises(NotDone, match="is there already"):
        import_table(path, to)
    assert to.read_text("utf-8") == "mine"
    with pytest.raises(NotDone, match=r"path of a new \.toml file"):
        import_table(path, tmp_path / "new.csv")
    with pytest.raises(NotDone, match="cannot be written"):
        import_table(path, tmp_path / "absent" / "new.toml")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("bid-300", "bid-30", ["line 2, fabric", "'bid-30'", "bid-200"]),
        ("uni-220", "", ["line 3, fabric", "missing"]),
        ("400 mm", "0 mm", ["line 2, width", "accepted: 0.01 mm to 100 m"]),
        ("400 mm", "0.000001 mm", ["line 2, width", "accepted: 0.01 mm to 100 m"]),
        ("16 in", "", ["line 3, width", "missing"]),
        ("16 in", "16", ["line 3, width", "no unit"]),
        ("tape,1.2 m", "tape,1.2 kg", ["line 4, length", "is a mass"]),
        (",6", ",6.5", ["line 4, count", "'6.5'"]),
        (",6", ",six", ["line 4, count", "'six'"]),
        (",6", ",0", ["line 4, count", "'0'"]),
        ("rectangle", "disc", ["line 2, diameter", "missing"]),
        ("45 deg", "north", ["line 2, orientation", "'north'"]),
        ("orientation", "angle", ["line 1", "'angle'", "orientation"]),
        ("orientation", "fabric", ["line 1: 'fabric' was read twice; accepted, each once"]),
        ("orientation", "", ["line 1: column 3 has no name; accepted, each once"]),
        (",6\n", ",6,\n", ["line 4: has 8 cells, and line 1 names 7"]),
        (",6\n", ',"6\n', ["line 4: a cell goes on in the next line; accepted: each entry "]),
        (",6\n", ',"6', ["line 4: ends within a quotation mark; accepted: each quotation mark cl"]),
        (",6", ",6,7", ["line 4", "has 8 cells, and line 1 names 7; accepted: up to 7, "]),
        ("skin,bid-300", '"skin\n",bid-300', ["line 2", "goes on in the next line; accepted: "]),
        (",2\n", ",2,9\n", ["line 2", "has 8 cells"]),
        ("skin,bid-300", "sk\x1bin,bid-300", ["line 2, step", "printable"]),
    ],
)
def test_a_slip_is_refused_with_its_line(
    tmp_path: Path, old: str, new: str, says: list[str]
) -> None:
    assert old in TABLE
    sentence = refusal(table(tmp_path, TABLE.replace(old, new, 1)))
    for part in ("plies.csv", *says):
        assert part in sentence


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("fabric,shape\n", "has no ply"),
        ("fabric,shape\n,\n", "has no ply"),
        (b"fabric\n\xff\n", "line 2, byte 7 is not UTF-8"),
        (b"fabric\r\nbid\xff\n", "line 2, byte 11 is not UTF-8"),
        (b"\xff", "line 1, byte 0 is not UTF-8"),
        ("fabric\n" + "x" * 2_000_000, "is larger than"),
        ("a\tb\n1\t2\n", "line 1"),
    ],
)
def test_what_is_no_table_is_one_sentence(tmp_path: Path, text: str | bytes, says: str) -> None:
    assert says in refusal(table(tmp_path, text))
    assert "cannot be read" in refusal(tmp_path / "absent.csv")
