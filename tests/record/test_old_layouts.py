"""Records of an older layout that were damaged or altered: found, and told in a sentence."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from support.command import one_sentence

from mixer.cli import main

Capture = pytest.CaptureFixture[str]
PAGE = 4096
CORPUS = Path(__file__).parent / "corpus"
LOOKING = (["list"], ["list", "--json"], ["list", "--lot", "x"], ["show", "1"])


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return Path(copyfile(CORPUS / "layout-1.cupside", tmp_path / "old.cupside"))


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        for statement in statements:
            db.execute(statement)


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def lose(path: Path, page: int) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[: page * PAGE] + bytes(PAGE) + whole[(page + 1) * PAGE :])


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE facts SET utc = '2020-01-01T00:00:00.000Z' WHERE seq = 3",
        "UPDATE facts SET at_ms = at_ms + 1 WHERE seq = 3",
        "UPDATE facts SET boot = CAST(boot AS BLOB) WHERE seq = 3",
        "UPDATE facts SET kind = CAST(kind AS BLOB) WHERE seq = 3",
        "UPDATE facts SET batch = CAST(batch AS BLOB) WHERE seq = 3",
    ],
)
def test_what_stands_beside_a_fact_is_compared_with_it(
    old: Path, capsys: Capture, statement: str
) -> None:
    assert run(old, "verify") == 0
    change(old, statement)
    capsys.readouterr()
    assert run(old, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith("Fact 3 is not as it was stored")
    assert one_sentence(said)
    for words in LOOKING:
        assert run(old, *words) == 0
        assert "Fact 3 is not as it was stored" in capsys.readouterr().err


def test_whatever_page_is_lost_it_is_said(old: Path, capsys: Capture) -> None:
    whole = old.read_bytes()
    for page in range(1, len(whole) // PAGE):
        old.write_bytes(whole)
        lose(old, page)
        capsys.readouterr()
        assert run(old, "verify") == 1
        assert one_sentence("".join(capsys.readouterr()))
        for words in LOOKING:
            status = run(old, *words)
            told = capsys.readouterr()
            assert one_sentence(told.err), (page, words)
            assert "failed" not in told.err
            assert status == 0 or (page == 1 or "show" in words)


def test_of_one_cut_off_the_lots_are_found_as_far_as_it_goes(old: Path, capsys: Capture) -> None:
    change(old, "VACUUM")
    whole = old.read_bytes()
    old.write_bytes(whole[: int(0.6 * len(whole))])
    assert run(old, "list", "--lot", "x") == 0
    told = capsys.readouterr()
    assert told.out.startswith("No batch of this lot is found in what can be read.\n")
    assert "was cut off: facts " in told.err


@pytest.mark.parametrize(("kept", "told"), [(1, 2), (2, 1)])
def test_a_layout_that_is_told_wrongly_is_said_in_our_words(
    tmp_path: Path, capsys: Capture, kept: int, told: int
) -> None:
    path = Path(copyfile(CORPUS / f"layout-{kept}.cupside", tmp_path / "old.cupside"))
    change(path, f"PRAGMA user_version = {told}")
    table = tmp_path / "table.csv"
    changing = ["correct", "1", "--field=operator", "--value=CD", "--reason=typo"]
    for words in (*LOOKING, ["verify"], changing, ["export", "--to", str(table)]):
        status = run(path, *words)
        said = capsys.readouterr()
        assert status or words[0] in ("list", "show", "export"), words
        assert one_sentence(said.err or said.out), words
        assert "how its tables are to be read" in said.err + said.out
        assert "column" not in said.err
