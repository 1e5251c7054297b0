"""Looking at a record: while it is written, where nobody may write, damaged, newer."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from support.facts import fact, live, opened, poured
from support.rights import as_somebody

from mixer.record.envelope import RecordError
from mixer.record.journal import SCHEMA, Journal
from mixer.record.reader import Reader


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append([*poured(1), live(1), *poured(2)])
    return path


def test_it_is_read_while_another_program_writes(path: Path) -> None:
    with Journal.open(path) as journal, Journal.read(path) as reader:
        journal.claim()
        assert list(reader.entries()) == [*poured(1), live(1), *poured(2)]
        journal.append([live(2, cup=2)])
        assert {e.batch for e in reader.entries(outcome="live")} == {1, 2}
        assert reader.verify().facts == 16


def test_looking_changes_nothing_and_makes_no_record(path: Path, tmp_path: Path) -> None:
    before = path.read_bytes()
    with Journal.read(path) as reader:
        reader.verify()
        list(reader.entries(lot="R-17"))
    assert path.read_bytes() == before
    with pytest.raises(RecordError, match="There is no record at"):
        Journal.read(tmp_path / "none")
    assert not (tmp_path / "none").exists()


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
@pytest.mark.parametrize("written", [False, True])
def test_from_a_folder_that_may_not_be_written_to(path: Path, written: bool) -> None:
    """Also with facts that stand in SQLite's log alone, as after a power cut."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with Journal.open(path) as journal:
            if written:
                journal.append([live(2, cup=2)])
            for part in path.parent.glob("record.cupside*"):
                if not part.name.endswith("-shm"):
                    copyfile(part, folder / part.name)
                    (folder / part.name).chmod(0o444)
        folder.chmod(0o555)
        try:
            with as_somebody(), Journal.read(folder / path.name) as reader:
                assert reader.verify().facts == 15 + written
                found = {e.batch for e in reader.entries(outcome="live")}
                assert found == ({1, 2} if written else {1})
        finally:
            folder.chmod(0o755)


def test_a_record_of_a_newer_program_is_read_and_says_so(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(f"PRAGMA user_version = {SCHEMA + 1}")
        db.execute("DROP TABLE batches")  # it may keep them otherwise
        db.execute("ALTER TABLE facts ADD COLUMN signed BLOB")
    with Journal.read(path) as reader:
        assert "newer version" in reader.newer
        assert reader.verify().ok
        assert len(list(reader.entries())) == 15
        assert {e.batch for e in reader.entries(outcome="live")} == {1}
        assert {e.batch for e in reader.entries(lot="R-17")} == {1, 2}


@pytest.mark.parametrize("table", ["facts", "batches", "traces"])
def test_a_damaged_part_costs_no_more_than_itself(path: Path, table: str) -> None:
    with Journal.open(path) as journal:
        for batch in range(3, 90):
            journal.append(poured(batch))
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (size,) = db.execute("PRAGMA page_size").fetchone()
        leaf = "SELECT min(pageno) FROM dbstat WHERE name = ? AND pagetype = 'leaf'"
        try:
            (page,) = db.execute(leaf, [table]).fetchone()
        except sqlite3.OperationalError:
            pytest.skip("this SQLite cannot say where its tables lie")
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)
    with Journal.read(path) as reader:
        entries = list(reader.entries())
        assert len(entries) > 500
        if table == "facts":
            assert "is damaged: fact" in reader.torn
            assert not reader.verify().ok


@pytest.mark.parametrize("content", [b"hello", bytes(range(256)) * 64])
def test_what_is_no_record_is_said_to_be_none(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "other"
    path.write_bytes(content)
    with pytest.raises(RecordError, match="not a build record"):
        Journal.read(path)
    assert path.read_bytes() == content


def test_a_copy_with_its_log_cut_anywhere_opens_and_verifies(tmp_path: Path) -> None:
    """At each page of the log, and between: what a file manager copies in the middle of it."""
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal._db.execute("PRAGMA wal_autocheckpoint = 0")
        journal.append([opened()])
        for n in range(12):
            journal.append([fact("noted", text="x" * 300, at_ms=n)])
        whole = path.read_bytes()
        log = path.with_name("record.cupside-wal").read_bytes()
    assert len(log) > 10 * 4096
    seen = set()
    for cut in [*range(0, len(log), 1373), len(log)]:
        copy = tmp_path / f"copy-{cut}"
        copy.write_bytes(whole)
        copy.with_name(copy.name + "-wal").write_bytes(log[:cut])
        if cut == 0:  # the log holds the record's very making
            continue
        with Journal.read(copy) as reader:
            found = reader.verify()
        assert found.ok
        seen.add(found.facts)
    assert seen == set(range(14))


@pytest.mark.parametrize("lost", ["in the midst", "at its end", "with what finds them"])
def test_behind_a_long_damage_all_is_read(tmp_path: Path, lost: str) -> None:
    """More facts than one could take for the end of the record."""
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append([*poured(), *(fact("noted", 2 + n // 500) for n in range(5000))])
        journal.append([live()])
    with closing(sqlite3.connect(path)) as db:
        (size,) = db.execute("PRAGMA page_size").fetchone()
        leaves = "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path"
        try:
            pages, index = ([n for (n,) in db.execute(leaves, [name])] for name in _BOTH)
        except sqlite3.OperationalError:
            pytest.skip("this SQLite cannot say where its tables lie")
    gone = pages[60:] if lost == "at its end" else pages[60:-60]
    gone += index if lost == "with what finds them" else []
    with path.open("r+b") as file:
        for page in gone:
            file.seek((page - 1) * size)
            file.write(bytes(size))
    with Journal.read(path) as reader:
        entries = list(reader.entries())
        assert "is damaged: fact" in reader.torn
        assert len(gone) > 140
        assert 500 < len(entries) < 2500
        assert (entries[-1] == live()) == (lost != "at its end")
        assert len(list(reader.entries(1))) == (7 if lost == "at its end" else 8)


_BOTH = ("facts", "facts_by_batch")


@pytest.mark.parametrize("at", [0, 15, 16, 21, 22, 23, 28, 47, 63, 68, 71])
def test_a_record_with_a_bit_turned_in_its_head_is_read_and_said(tmp_path: Path, at: int) -> None:
    path = tmp_path / "record"
    with Journal.open(tmp_path / "open") as journal:
        journal.append(poured())
        journal.backup(path)
    raw = bytearray(path.read_bytes())
    raw[at] ^= 64 if at in (28, 63) else 128
    if at == 63:
        raw[at] = 0
    path.write_bytes(raw)
    with Reader.look(path) as reader:
        assert len(list(reader.entries())) == 7
        assert not reader.verify().ok
        assert "damaged" in reader.torn
        reader.backup(tmp_path / "copy")
    assert path.read_bytes() == raw
    with Journal.read(tmp_path / "copy") as copy:
        assert copy.verify().ok
    if at != 28:
        with pytest.raises(RecordError, match="damaged") as refused:
            Journal.open(path)
        assert "some other file" not in refused.value.say
