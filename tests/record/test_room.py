"""Room in SQLite's log: made before a batch, filled by its facts, and no part of the record."""

from __future__ import annotations

import sys
from pathlib import Path
from shutil import copyfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import fact, live, opened, poured

from mixer.record import journal as journals
from mixer.record import room
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.log import damaged
from mixer.record.room import ROOM_BYTES
from mixer.record.trace import Sample

CALLS = 6


def log_of(record: Path) -> Path:
    return record.with_name(record.name + "-wal")


def store_a_batch(journal: Journal) -> None:
    for entry in [*poured(), *(fact("noted", text=f"note {n}") for n in range(20))]:
        journal.append([entry])
        journal.add_trace(1, [Sample(n, n * 7919, f"{n} g", False) for n in range(40)], "b1")


def fill(journal: Journal) -> None:
    for n in range(400):
        journal.append([fact("noted", n=n)])


def test_the_log_does_not_grow_while_a_batch_is_poured(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "record") as journal:
        journal.claim()
        size = log_of(tmp_path / "record").stat().st_size
        assert size >= ROOM_BYTES
        store_a_batch(journal)
        journal.append([live()])
        assert log_of(tmp_path / "record").stat().st_size == size
        journal.release()
        journal.claim()  # enough of it is left
        assert log_of(tmp_path / "record").stat().st_size == size
        assert journal.verify().ok


@pytest.mark.skipif(sys.platform == "win32", reason="there is no limit on the size of files")
def test_a_disk_that_fills_up_takes_the_rest_of_the_batch(tmp_path: Path) -> None:
    import resource

    with Journal.open(tmp_path / "record") as journal:
        journal.claim()
        size = log_of(tmp_path / "record").stat().st_size
        before = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
        try:
            store_a_batch(journal)
            with pytest.raises(RecordError, match="nothing new was stored"):
                fill(journal)
            stored = journal.head()[0]
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, before)
        journal.append([fact("noted", n=0)])
        assert journal.verify().facts == stored + 1


def test_there_is_room_again_once_the_log_was_emptied(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journals, "LOG_MAX_BYTES", ROOM_BYTES + 50_000)
    with Journal.open(tmp_path / "record") as journal:
        for _ in range(4):
            journal.claim()
            store_a_batch(journal)
            journal.release()
        assert ROOM_BYTES <= log_of(tmp_path / "record").stat().st_size <= 2 * ROOM_BYTES + 200_000
        assert journal.verify().facts == 4 * 27
    assert not log_of(tmp_path / "record").exists()


def test_a_killed_record_with_room_opens_and_is_not_called_damaged(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "open") as journal:
        journal.claim()
        for number, entry in enumerate(poured(), 1):
            journal.append([entry])
            for end in ("", "-wal"):
                copyfile(f"{tmp_path / 'open'}{end}", f"{tmp_path / 'killed'}{end}")
            assert not damaged(tmp_path / "killed")
            with Journal.read(tmp_path / "killed") as reader:
                assert (reader.verify().ok, reader.head()[0]) == (True, number)
    with Journal.open(tmp_path / "killed") as journal:
        journal.claim()
        journal.append([live()])
        assert journal.verify().facts == len(poured()) + 1


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    folder = tmp_path_factory.mktemp("log")
    with Journal.open(folder / "record") as journal:
        journal.append([opened()])
        for n in range(CALLS):
            journal.append([fact("noted", text="x" * 5000, at_ms=n)])
        return log_of(folder / "record").read_bytes()


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_damage_is_seen_with_room_behind_it_as_without(
    log: bytes, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    record = tmp_path_factory.getbasetemp() / "hurt"
    raw = bytearray(log)
    for at in data.draw(st.lists(st.integers(0, len(raw) - 1), max_size=3)):
        raw[at] ^= 1 << data.draw(st.integers(0, 7))
    start = data.draw(st.integers(0, len(raw) // 4120)) * 4120 + 32
    gone = raw[start : start + data.draw(st.sampled_from([0, 512, 4120]))]
    raw[start : start + len(gone)] = bytes(len(gone)) if data.draw(st.booleans()) else b""
    log_of(record).write_bytes(raw)
    due = damaged(record)
    log_of(record).write_bytes(bytes(raw) + bytes(200_000))
    assert damaged(record) == due


def test_where_no_room_can_be_had_it_goes_on_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Journal.open(tmp_path / "record") as journal:
        journal.append([opened()])
        size = log_of(tmp_path / "record").stat().st_size

        def full(number: int) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(room.os, "fsync", full)
        journal.claim()
        assert log_of(tmp_path / "record").stat().st_size == size
        monkeypatch.undo()
        journal.append(poured()[1:])
        assert journal.verify().facts == len(poured())
