"""What belongs to a record is never written over, by a copy or by a table."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.command import one_sentence
from support.facts import live, poured

from mixer.cli import main
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

Capture = pytest.CaptureFixture[str]
PARTS = ("-wal", "-shm", "-lock", "-journal")


def held(path: Path) -> bytes | None:
    return path.read_bytes() if path.exists() else None


@pytest.fixture(params=["record", "another"])
def name(request: pytest.FixtureRequest) -> str:
    """Whose part it is: of the record that is copied, or of one that is written elsewhere."""
    return str(request.param)


@pytest.mark.parametrize("used", ["claimed", "open", "closed"])
@pytest.mark.parametrize("kind", ["", *PARTS])
@pytest.mark.parametrize("what", ["export", "backup"])
def test_a_part_of_a_record_is_not_written_over(
    tmp_path: Path, capsys: Capture, name: str, what: str, kind: str, used: str
) -> None:
    path, to = tmp_path / name, tmp_path / f"{name}{kind}"
    with Journal.open(tmp_path / "record") as journal:
        journal.append(poured())
    with Journal.open(path) as journal:
        journal.append([live(7)])
        if used == "claimed":
            journal.claim()
        if used == "closed":
            journal.close()
        before = held(to)
        assert main(["record", what, "--to", str(to), "--record", str(tmp_path / "record")]) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert one_sentence(told.err)
        assert str(to) in told.err
        if not (kind == "-shm" or (kind == "-wal" and used == "closed")):  # SQLite's own doing
            assert held(to) == before
        if used != "closed":
            journal.append([live(8)])
            assert journal.verify().ok
        assert not (held(to) or b"").startswith(b"batch,")
    assert not list(tmp_path.glob(".*part*"))


@pytest.mark.parametrize("what", ["export", "backup"])
def test_nor_by_a_link_to_it(tmp_path: Path, capsys: Capture, what: str) -> None:
    link, record = tmp_path / "link.csv", tmp_path / "record"
    with Journal.open(record) as journal:
        journal.append(poured())
        journal.claim()
        link.symlink_to(tmp_path / "record-lock")
        assert main(["record", what, "--to", str(link), "--record", str(record)]) == 2
        assert one_sentence(capsys.readouterr().err)
        assert (tmp_path / "record-lock").stat().st_size == 0
    assert not list(tmp_path.glob(".*part*"))


@pytest.mark.parametrize("what", ["export", "backup"])
def test_a_name_that_only_ends_like_that_is_taken(
    tmp_path: Path, capsys: Capture, what: str
) -> None:
    record, to = tmp_path / "record", tmp_path / "under-lock"
    with Journal.open(record) as journal:
        journal.append(poured())
    assert main(["record", what, "--to", str(to), "--record", str(record)]) == 0
    assert to.stat().st_size


@pytest.mark.parametrize("kind", PARTS)
def test_nor_is_it_made_a_record(tmp_path: Path, kind: str) -> None:
    record = tmp_path / "record"
    with Journal.open(record) as journal:
        journal.append(poured())
        with pytest.raises(RecordError, match="is a part of the record record: give that one"):
            Journal.open(tmp_path / f"record{kind}")
        journal.append([live(1)])
        assert journal.verify().ok
