"""A damaged file is told as one, and not written to where its newest facts are gone."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from support.command import one_sentence
from support.facts import fact, live, poured

from mixer.cli import main
from mixer.record import newest
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

Capture = pytest.CaptureFixture[str]
PAGE, SECTOR, BATCHES = 4096, 512, 40


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "record"
    with Journal.open(path) as journal:
        for batch in range(1, BATCHES + 1):
            closed = [] if batch in (5, BATCHES) else [fact("closed", batch, how="used-up")]
            journal.append([*poured(batch), live(batch, cup=batch), *closed])
    return path


@pytest.fixture
def record(whole: Path, tmp_path: Path) -> Path:
    return Path(copyfile(whole, tmp_path / "record"))


def leaf(record: Path, name: str, at: int) -> int:
    """Where a page of a table or of what finds it begins."""
    select = "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path"
    try:
        with closing(sqlite3.connect(record)) as db:
            pages = [number for (number,) in db.execute(select, (name,))]
    except sqlite3.OperationalError:
        pytest.skip("this SQLite cannot say where its tables lie")
    return (pages[at] - 1) * PAGE


def test_what_another_program_stores_meanwhile_is_no_damage(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks, amiss = newest._THERE, newest.amiss

    def other() -> int:
        with closing(sqlite3.connect(record)) as theirs:
            theirs.execute(
                "UPDATE facts SET seq = seq + 1 WHERE seq = (SELECT max(seq) FROM facts)"
            )
            theirs.commit()
        return 0

    def watched(db: sqlite3.Connection, path: Path) -> str:
        db.create_function("other", 0, other)
        return amiss(db, path)

    monkeypatch.setattr(newest, "_THERE", looks.replace("ORDER BY", "WHERE other() = 0 ORDER BY"))
    monkeypatch.setattr(newest, "amiss", watched)
    Journal.open(record).close()


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def fewer(record: Path, name: str, by: int) -> None:
    """The last page of it tells of fewer rows (SQLite's file format, 1.6: their count at 3)."""
    raw = bytearray(record.read_bytes())
    at = leaf(record, name, -1) + 4
    assert raw[at] > by
    raw[at] -= by
    record.write_bytes(raw)


@pytest.mark.parametrize("name", ["facts", "facts_by_batch"])
def test_where_the_newest_facts_are_gone_nothing_is_written(
    record: Path, capsys: Capture, name: str
) -> None:
    with Journal.read(record) as reader:
        before = dict(reader.sealed())
    fewer(record, name, 2)
    raw = record.read_bytes()
    with pytest.raises(RecordError, match="record rebuild"):
        Journal.open(record)
    assert main(["close", "5", "--used-up", "--record", str(record)]) == 2
    said = capsys.readouterr().err
    assert said.startswith("Nothing was stored. ")
    assert "record rebuild" in said
    assert record.read_bytes() == raw
    assert run(record, "verify") == 1
    assert "is damaged" in capsys.readouterr().out
    status = run(record, "rebuild")
    with Journal.open(record) as journal:
        (one,) = journal.append([fact("noted", 5, text="since")])
        assert one.seq > max(before)
        after = dict(journal.sealed())
    assert {seq: after.get(seq, before[seq]) for seq in before} == before
    assert status == (0 if before.keys() <= after.keys() else 1)


def test_what_finds_the_facts_and_is_damaged_is_told_in_a_sentence(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    at = leaf(record, "facts_by_batch", 0)
    whole = record.read_bytes()
    told = 0
    for sector in (5, 6, 7):  # what a page holds stands at its end
        raw = bytearray(whole)
        raw[at + sector * SECTOR : at + (sector + 1) * SECTOR] = bytes(SECTOR)
        record.write_bytes(raw)
        assert run(record, "verify") == 1
        said = capsys.readouterr().out
        assert "damaged" in said
        assert "record rebuild" in said
        for words in (["show", "3"], ["export", "--to", str(tmp_path / "all.csv")]):
            status = run(record, *words)
            said = capsys.readouterr().err
            assert "The program itself failed" not in said
            assert "record rebuild" in said
            told += status == 0
    assert told


def test_a_page_of_facts_that_is_lost_is_told_as_damage(record: Path, capsys: Capture) -> None:
    at = leaf(record, "facts", 5)
    raw = bytearray(record.read_bytes())
    raw[at : at + PAGE] = bytes(PAGE)
    record.write_bytes(raw)
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert one_sentence(said)
    assert "is damaged: fact" in said
    assert "record rebuild" in said


def test_rows_that_a_damaged_page_hides_are_told_as_damage(record: Path, capsys: Capture) -> None:
    at = leaf(record, "facts", 5) + 4
    raw = bytearray(record.read_bytes())
    raw[at] -= 1
    record.write_bytes(raw)
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith("Fact ")
    assert "itself is damaged, which may be why: record rebuild" in said


def test_what_was_altered_before_a_damaged_part_is_named_too(record: Path, capsys: Capture) -> None:
    with closing(sqlite3.connect(record)) as db, db:
        db.execute("DELETE FROM facts WHERE seq = 4")
    at = leaf(record, "facts", 1)
    raw = bytearray(record.read_bytes())
    raw[at : at + PAGE] = bytes(PAGE)
    record.write_bytes(raw)
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith("Fact 4 is not as it was stored")
    assert "damaged" in said
    assert "record rebuild" in said
