"""The journal file: what is stored, in what order, and every trouble in a sentence."""

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
from mixer.record.views import live_cups


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "folders" / "not there yet" / "record.db"


def said(path: Path) -> str:
    with pytest.raises(RecordError) as refused:
        Journal.open(path)
    assert str(path) in refused.value.say or str(path.parent) in refused.value.say
    assert refused.value.say.endswith(".")
    assert "\n" not in refused.value.say
    return refused.value.say


def test_facts_come_back_in_their_order_after_reopening(path: Path) -> None:
    facts = [*poured(1), *poured(2), live(2)]
    with Journal.open(path) as journal:
        first = journal.append(facts[:5])
        second = journal.append(facts[5:])
        assert [one.seq for one in first + second] == list(range(1, len(facts) + 1))
        assert second[0].prev == first[-1].hash
        assert list(journal.entries()) == facts
    with Journal.open(path) as journal:
        assert list(journal.entries()) == facts
        assert list(journal.entries(batch=2)) == [*poured(2), live(2)]
        assert journal.append([]) == []
        assert journal.verify().ok


def test_more_facts_than_are_fetched_at_once(path: Path) -> None:
    facts = [fact("noted", at_ms=n) for n in range(2_000)]
    with Journal.open(path) as journal:
        journal.append(facts)
        assert list(journal.entries()) == facts
        # Writing between two facts that are read is no trouble.
        for count, _ in enumerate(journal.entries(), 1):
            if count == 1:
                journal.append([fact("noted", at_ms=2_000)])
        assert count == 2_001
        assert journal.verify().ok


def test_a_new_batch_gets_the_next_number(path: Path) -> None:
    with Journal.open(path) as journal:
        assert journal.open_batch(opened(batch=0)) == 1
        assert journal.open_batch(opened(batch=0)) == 2
        journal.append([fact("noted", batch=0)])
        assert journal.open_batch(opened(batch=0)) == 3
        assert [entry.batch for entry in journal.entries()] == [1, 2, 0, 3]


def test_batches_are_chosen_by_how_they_came_out(path: Path) -> None:
    closed = fact("closed", batch=1, how="used-up", left_ug=None)
    dropped = fact("ended", batch=4, how="dropped")
    with Journal.open(path) as journal:
        journal.append([*poured(1), live(1), *poured(2), live(2), *poured(3), closed])
        journal.append([opened(batch=4, hardener_lot="H-2"), dropped])
        for outcome, batches in {"live": {2}, "open": {3}, "closed": {1}, "dropped": {4}}.items():
            assert {e.batch for e in journal.entries(outcome=outcome)} == batches
        assert list(journal.entries(batch=3, outcome="live")) == []
        assert list(journal.entries(outcome="live")) == [*poured(2), live(2)]
        assert live_cups(journal.entries(outcome="live")) == live_cups(journal.entries())
        assert {e.batch for e in journal.entries(lot="R-17")} == {1, 2, 3, 4}
        assert {e.batch for e in journal.entries(lot="H-2")} == {4}
        assert {e.batch for e in journal.entries(lot="R-17", outcome="open")} == {3}
        journal.append([fact("corrected", batch=3, field="resin_lot", value="R-18")])
        assert {e.batch for e in journal.entries(lot="R-17")} == {1, 2, 4}
        assert {e.batch for e in journal.entries(lot="R-18")} == {3}


def test_one_bad_fact_keeps_the_whole_call_out(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.append(poured())
        with pytest.raises(RecordError, match=r"data\.x is nan, not a finite number"):
            journal.append([fact("noted"), fact("noted", x=float("nan"))])
        assert list(journal.entries()) == poured()
        journal.append([live()])
        assert journal.verify().ok


def test_a_failed_commit_leaves_nothing_and_the_next_goes_on(path: Path) -> None:
    fails = [False]

    def before_commit() -> None:
        if fails[0]:
            raise OSError("the disk went away")

    with Journal.open(path, before_commit=before_commit) as journal:
        journal.append(poured())
        fails[0] = True
        with pytest.raises(OSError, match="went away"):
            journal.append([live()])
        fails[0] = False
        assert list(journal.entries()) == poured()
        journal.append([live()])
        assert journal.verify().ok


def test_nobody_sees_a_fact_before_it_is_committed(path: Path) -> None:
    seen: list[int] = []

    def look() -> None:
        with closing(sqlite3.connect(path)) as db:
            seen.extend(db.execute("SELECT count(*) FROM facts").fetchone())

    with Journal.open(path, before_commit=look) as journal:
        journal.append(poured())
        look()
    assert seen == [0, len(poured())]


def test_it_is_kept_as_promised(path: Path) -> None:
    """Durable against a power cut: SQLite documentation, "PRAGMA synchronous" (2 = FULL)."""
    with Journal.open(path) as journal:
        pragma = {
            n: journal._db.execute(f"PRAGMA {n}").fetchone()[0]
            for n in ("journal_mode", "synchronous", "user_version")
        }
    assert pragma == {"journal_mode": "wal", "synchronous": 2, "user_version": SCHEMA}


@pytest.mark.parametrize(
    ("tamper", "bad"),
    [
        ("UPDATE facts SET bytes = replace(bytes, '44100000', '44100001') WHERE seq = 5", 5),
        ("UPDATE facts SET bytes = CAST(bytes AS TEXT) WHERE seq = 5", 5),
        ("UPDATE facts SET hash = zeroblob(32) WHERE seq = 5", 5),
        ("UPDATE facts SET prev = zeroblob(32) WHERE seq = 5", 5),
        ("UPDATE facts SET batch = 9 WHERE seq = 5", 5),
        ("UPDATE facts SET kind = CAST(x'ff' AS TEXT) WHERE seq = 5", 5),
        ("DELETE FROM facts WHERE seq = 5", 5),
        ("DELETE FROM facts WHERE seq = 1", 1),
        ("UPDATE facts SET seq = -3 WHERE seq = 3", 3),
        ("UPDATE facts SET seq = CASE seq WHEN 99 THEN 3 ELSE 99 END WHERE seq IN (3)", 3),
        (
            "INSERT INTO facts SELECT -4, bytes, prev, hash, batch, kind FROM facts WHERE seq = 3",
            -4,
        ),
        (
            "INSERT INTO facts SELECT 8, bytes, prev, hash, batch, kind FROM facts WHERE seq = 7",
            8,
        ),
    ],
)
def test_a_change_behind_our_back_is_found(path: Path, tamper: str, bad: int) -> None:
    with Journal.open(path) as journal:
        journal.append(poured())
        assert journal.verify().ok
    with closing(sqlite3.connect(path)) as db, db:
        assert db.execute(tamper).rowcount == 1
    with Journal.open(path) as journal:
        assert journal.verify().bad == bad


def test_a_fact_that_cannot_be_read_is_named(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.append(poured())
        with closing(sqlite3.connect(path)) as db, db:
            db.execute("UPDATE facts SET bytes = x'7b' WHERE seq = 4")
        with pytest.raises(RecordError, match=r"Fact 4 in .* cannot be read"):
            list(journal.entries())


def test_some_other_file_is_refused_and_not_touched(tmp_path: Path) -> None:
    text, garbage, database = (tmp_path / name for name in ("a.txt", "b.bin", "c.db"))
    text.write_text("hello")
    garbage.write_bytes(bytes(range(256)) * 64)
    with closing(sqlite3.connect(database)) as db, db:
        db.execute("CREATE TABLE plans (name TEXT)")
        db.execute(f"PRAGMA user_version = {SCHEMA}")
    for path in (text, garbage, database):
        before = path.read_bytes()
        assert "is not a build record" in said(path)
        assert path.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.txt", "b.bin", "c.db"]


def test_an_empty_file_is_no_new_record(tmp_path: Path) -> None:
    """As a disk leaves one that fails."""
    path = tmp_path / "record.db"
    path.touch()
    for look in (Journal.open, Reader.look):
        with pytest.raises(RecordError, match=r"is an empty file.*put the record or a copy.*back"):
            look(path)
    assert [(one.name, one.stat().st_size) for one in tmp_path.iterdir()] == [("record.db", 0)]


def test_one_is_made_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, seen = tmp_path / "record.db", []

    def link(part: Path, to: Path) -> None:
        seen.append((part.name, sorted(one.name for one in tmp_path.iterdir())))
        raise OSError(1, "no second name there")

    (tmp_path / ".record.db.999999999.part").write_bytes(b"half")
    (tmp_path / ".other.db.999999999.part").write_bytes(b"of another")
    monkeypatch.setattr(os, "link", link)
    with Journal.open(path) as journal:
        assert journal.new
        journal.append(poured())
    (made,) = seen
    assert made[1] == sorted([".other.db.999999999.part", made[0]])
    assert {one.name for one in tmp_path.iterdir()} <= {
        *(".other.db.999999999.part", "record.db", "record.db-lock"),
    }
    with Journal.open(path) as journal:
        assert not journal.new
        assert journal.verify().ok


@pytest.mark.parametrize("there", [True, False])
def test_a_journal_that_stands_beside_it_is_not_rolled_back_or_deleted(
    tmp_path: Path, there: bool
) -> None:
    """A copy put where a record was being made when it was killed; or somebody's notes."""
    path = tmp_path / "record.db"
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("PRAGMA cache_size = 1")
    other.execute("BEGIN")
    other.execute("CREATE TABLE one (two)")
    for _ in range(50):
        other.execute("INSERT INTO one VALUES (zeroblob(3000))")
    copyfile(f"{path}-journal", tmp_path / "kept")
    other.close()
    with Journal.open(tmp_path / "new") as journal:
        journal.append(poured())
        journal.backup(tmp_path / "copy")
    path.unlink()
    if there:
        copyfile(tmp_path / "copy", path)
    before = (tmp_path / "kept").read_bytes()
    (tmp_path / "record.db-journal").write_bytes(before)
    with pytest.raises(RecordError, match=r"Beside the record .*record.db-journal.*move that"):
        Journal.open(path)
    assert (tmp_path / "record.db-journal").read_bytes() == before
    assert path.exists() == there
    (tmp_path / "record.db-journal").rename(tmp_path / "elsewhere")
    with Journal.open(path) as journal:
        assert journal.head()[0] == (7 if there else 0)


def test_a_record_of_a_newer_program_is_not_touched(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.append(poured())
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    before = path.read_bytes()
    assert f"layout {SCHEMA + 1}; this one knows {SCHEMA}" in said(path)
    assert path.read_bytes() == before


def test_no_file_and_no_folder(tmp_path: Path) -> None:
    assert "is not a file" in said(tmp_path)
    assert "is not a file" in said(Path(os.devnull))
    (tmp_path / "file").touch()
    assert "No folder for the record" in said(tmp_path / "file" / "record.db")


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
def test_without_the_right_to_write() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "record.db"
        with Journal.open(path) as journal:
            journal.append(poured())
        path.chmod(0o444)
        folder.chmod(0o555)
        try:
            with as_somebody():
                assert "look at the rights of file and folder" in said(path)
                assert "look at the rights of file and folder" in said(folder / "new.db")
                assert "No folder for the record" in said(folder / "new" / "record.db")
        finally:
            folder.chmod(0o755)
            path.chmod(0o644)
        with Journal.open(path) as journal:
            assert list(journal.entries()) == poured()


def test_a_full_disk_loses_nothing(path: Path) -> None:
    """SQLite's own answer to a full disk, brought about by a limit on its pages."""
    with Journal.open(path) as journal:
        journal.append(poured())
        (pages,) = journal._db.execute("PRAGMA page_count").fetchone()
        journal._db.execute(f"PRAGMA max_page_count = {pages + 2}")
        with pytest.raises(RecordError, match="the disk is full"):
            journal.append([fact("noted", text="x" * 100_000)])
        assert list(journal.entries()) == poured()
        journal._db.execute(f"PRAGMA max_page_count = {pages + 100}")
        journal.append([live()])
        assert journal.verify().ok


def test_a_disk_that_is_full_as_it_is_opened_is_told_as_that(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Journal.open(path).close()

    def amiss(db: sqlite3.Connection, path: Path) -> str:
        db.execute("ROLLBACK")  # as SQLite does by itself where there is no room for its index
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorname = "SQLITE_FULL"
        raise error

    monkeypatch.setattr("mixer.record.newest.amiss", amiss)
    assert "the disk is full" in said(path)


def test_a_record_that_another_program_holds(path: Path) -> None:
    with Journal.open(path, busy_s=0.05) as journal:
        journal.append(poured())
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(RecordError, match="another program is writing to it"):
                journal.append([live()])
            assert list(journal.entries()) == poured()  # reading is always possible
            other.execute("ROLLBACK")
        journal.append([live()])
        assert list(journal.entries()) == [*poured(), live()]


def test_a_name_that_sqlite_would_keep_in_memory_is_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with Journal.open(":memory:") as journal:
        journal.append(poured())
        assert (tmp_path / ":memory:").is_file()
    with Journal.open(":memory:") as journal:
        assert list(journal.entries()) == poured()


def test_a_closed_journal_says_so(path: Path) -> None:
    journal = Journal.open(path)
    journal.close()
    with pytest.raises(RecordError, match="closed"):
        journal.append(poured())
