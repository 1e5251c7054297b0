"""A stick that is pulled, a file that is taken away, another that is put in its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.facts import fact, live, opened, poured

from mixer.record.envelope import RecordError
from mixer.record.journal import Journal


def test_a_stick_that_is_pulled_and_put_back_loses_nothing(tmp_path: Path) -> None:
    stick, pocket = tmp_path / "stick", tmp_path / "pocket"
    path = stick / "record.cupside"
    with Journal.open(path) as journal:
        journal.append(poured())
        stick.rename(pocket)
        for _ in range(2):
            with pytest.raises(RecordError, match=r"no longer there.*put its disk or stick back"):
                journal.append([live()])
            assert not stick.exists()
        pocket.rename(stick)
        journal.append([live()])
        assert journal.verify().facts == 8
    with Journal.read(path) as reader:
        assert list(reader.entries()) == [*poured(), live()]


def test_a_file_that_was_replaced_by_its_own_copy_is_written_on(tmp_path: Path) -> None:
    path, copy = tmp_path / "record.cupside", tmp_path / "copy"
    with Journal.open(path) as journal:
        journal.append(poured())
        journal.backup(copy)
        copy.replace(path)
        for log in tmp_path.glob("record.cupside-*"):
            log.unlink()
        journal.append([live()])
    with Journal.read(path) as reader:
        assert list(reader.entries()) == [*poured(), live()]


@pytest.mark.parametrize("linked", [False, True])
@pytest.mark.parametrize("gone", ["-wal", "-shm", "-wal -shm"])
def test_what_was_deleted_beside_it_loses_no_fact(tmp_path: Path, gone: str, linked: bool) -> None:
    """A tidy hand, or a program that cleans up."""
    path = tmp_path / "record.cupside"
    link = tmp_path / "link"
    link.symlink_to(path)
    with Journal.open(link if linked else path) as journal:
        journal.claim()
        journal.append(poured())
        for end in gone.split():
            path.with_name(path.name + end).unlink()
        journal.append([live()])
        journal.append([fact("noted")])
        with Journal.read(path) as reader:  # and from now on they are where others look
            assert list(reader.entries()) == [*poured(), live(), fact("noted")]
            assert reader.verify().ok


@pytest.mark.parametrize("left", ["gone", "empty"])
def test_a_log_whose_record_is_gone_is_left_alone(tmp_path: Path, left: str) -> None:
    """SQLite would delete it, with every fact that is in it."""
    path, cut, other = tmp_path / "record", tmp_path / "cut", tmp_path / "other"
    log = tmp_path / "cut-wal"
    with Journal.open(path) as journal:
        journal.append(poured())
        log.write_bytes((tmp_path / "record-wal").read_bytes())
    if left == "empty":
        cut.touch()
        with pytest.raises(RecordError, match="holds facts"):
            Journal.read(cut)
    with pytest.raises(RecordError, match="holds facts"):
        Journal.open(cut)
    with Journal.open(other) as another, pytest.raises(RecordError, match="holds facts"):
        another.backup(cut)
    assert log.stat().st_size


@pytest.mark.parametrize("facts", [3, 40])
def test_another_record_upon_the_log_of_the_first_is_left_alone(tmp_path: Path, facts: int) -> None:
    """SQLite would take the two for one."""
    path, second = tmp_path / "record.cupside", tmp_path / "second"
    with Journal.open(second) as fresh:
        fresh.append([opened(operator="CD", batch=n) for n in range(1, facts)])
    with Journal.open(path) as journal:
        journal.append([opened(batch=n) for n in range(1, 30)])
        second.replace(path)
        before = path.read_bytes()
        for _ in range(2):
            with pytest.raises(RecordError, match="Another record stands at"):
                journal.append([live()])
        assert path.read_bytes() == before


@pytest.mark.parametrize("other", ["record", "older copy", "empty", "text"])
def test_another_file_in_its_place_is_not_written_to(tmp_path: Path, other: str) -> None:
    path, second = tmp_path / "record.cupside", tmp_path / "second"
    with Journal.open(path) as journal:
        if other == "older copy":
            journal.append(poured()[:3])
            journal.backup(second)
            journal.append(poured()[3:])
        else:
            journal.append(poured())
        if other == "record":
            with Journal.open(second) as fresh:
                fresh.append([opened(operator="CD"), *poured()[1:]])
        elif other != "older copy":
            second.write_text("" if other == "empty" else "hello")
        second.replace(path)
        for log in tmp_path.glob("record.cupside-*"):
            log.unlink()
        before = path.read_bytes()
        with pytest.raises(RecordError) as refused:
            journal.append([live()])
        assert refused.value.say.endswith(".")
        assert path.read_bytes()[100:] == before[100:]  # but for SQLite's own counters


def test_a_disk_that_answers_with_errors_is_opened_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sqlite3

    path = tmp_path / "record.cupside"
    fails = [False]

    def before_commit() -> None:
        if fails[0]:
            error = sqlite3.OperationalError("disk I/O error")
            error.sqlite_errorname = "SQLITE_IOERR_WRITE"
            raise error

    with Journal.open(path, before_commit=before_commit) as journal:
        journal.append(poured())
        first, fails[0] = journal._db, True
        with pytest.raises(RecordError, match="its disk does not answer"):
            journal.append([live()])
        fails[0] = False
        journal.append([live()])
        assert journal._db is not first
        assert journal.verify().facts == 8
