"""A record that has a second name on its disk: under each a program has a log and a lock."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from support.facts import fact, live, poured

from mixer.record import making
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

REFUSED = r"^The record \S+ has a second name on its disk[^\n]*\.$"


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "record"
    with Journal.open(path) as journal:
        journal.append(poured())
    try:
        os.link(path, tmp_path / "probe")
    except OSError:
        pytest.skip("this disk knows no second name for a file")
    (tmp_path / "probe").unlink()
    return path


def test_nobody_writes_under_either_name(record: Path) -> None:
    other = record.with_name("other")
    with Journal.open(record) as journal:
        os.link(record, other)
        journal.append([fact("noted", text="who has it open goes on")])
        with pytest.raises(RecordError, match=REFUSED):
            Journal.open(other)
        with pytest.raises(RecordError, match=REFUSED):
            journal.claim()
        journal.append([live()])
    with pytest.raises(RecordError, match=REFUSED):
        Journal.open(record)
    other.unlink()
    with Journal.open(record) as journal:
        assert journal.verify().facts == len(poured()) + 2


def test_who_looks_at_it_is_told_that_facts_may_be_missing(record: Path) -> None:
    other = record.with_name("other")
    os.link(record, other)
    with Journal.read(other) as reader:
        found = reader.verify()
        assert [*reader.entries()] == poured()
    assert not found.ok
    assert found.say.startswith(f"The record {other} has a second name")
    assert "or either where both logs are empty or none is there" in found.say


@pytest.mark.parametrize("program", [0, os.getppid()])
def test_the_name_that_a_killed_program_left_as_it_made_it_is_taken_away(
    record: Path, program: int
) -> None:
    """Another program may run under its number by now."""
    left = record.with_name(f".record.{program}.part")
    os.link(record, left)
    with Journal.open(record) as journal:
        journal.append([live()])
    assert not left.exists()


def test_a_file_that_is_still_being_made_stays(record: Path) -> None:
    other = record.with_name(f".record.{os.getppid()}.part")
    other.write_bytes(b"not yet")
    os.link(record, record.with_name("other"))
    with pytest.raises(RecordError, match=REFUSED):
        Journal.open(record)
    assert other.read_bytes() == b"not yet"


@pytest.mark.parametrize("count", [0, 2, 7])
def test_a_disk_that_counts_otherwise_keeps_nobody_from_writing(
    record: Path, count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """There each file has as many names."""
    monkeypatch.setattr(making, "_names", lambda path: count)
    before = set(listed(record.parent))
    with Journal.open(record) as journal:
        journal.claim()
        journal.append([live()])
        assert journal.verify().ok
    assert {*listed(record.parent)} - before <= {"record-lock", "record-wal", "record-shm"}


def listed(folder: Path) -> Iterator[str]:
    return (path.name for path in folder.iterdir())
