"""A copy while it is written, proven by opening it; and no file written over by mistake."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path
from stat import S_IMODE

import pytest
from support.facts import live, poured
from support.programs import ENV

from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

WRITE_FOR_EVER = """
import sys
from mixer.record.journal import Journal
from support.facts import fact
journal = Journal.open(sys.argv[1])
journal.claim()
while True:
    print(journal.append([fact("noted", text="x" * 500)])[-1].seq, flush=True)
"""


def test_a_copy_holds_all_and_is_one_plain_file(tmp_path: Path) -> None:
    path, copy = tmp_path / "record", tmp_path / "copy"
    with Journal.open(path) as journal:
        journal.append([*poured(), live()])
        journal.backup(copy)
        head = journal.head()
        journal.backup(copy)  # an older copy may be replaced
    assert sorted(p.name for p in tmp_path.glob("*copy*")) == ["copy"]
    with Journal.read(copy) as reader:
        assert reader.head() == head
        assert reader.verify(head[1]).ok
        assert {e.batch for e in reader.entries(outcome="live")} == {1}
    with Journal.open(copy) as restored:  # and it is written on
        restored.append(poured(2))
        assert restored.verify(head[1]).facts == 15


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
@pytest.mark.parametrize(("rights", "of_copy"), [(0o600, 0o600), (0o640, 0o640), (0o440, 0o640)])
def test_a_copy_is_shown_to_nobody_who_may_not_see_the_record(
    tmp_path: Path, rights: int, of_copy: int
) -> None:
    record, to = tmp_path / "record", tmp_path / "copy"
    with Journal.open(record) as journal:
        journal.append(poured())
    record.chmod(rights)
    for _ in range(2):
        with Journal.read(record) as reader:
            reader.backup(to)
        assert S_IMODE(to.stat().st_mode) == of_copy


def test_while_another_program_writes(tmp_path: Path) -> None:
    path = tmp_path / "record"
    command = [sys.executable, "-c", WRITE_FOR_EVER, str(path)]
    with subprocess.Popen(command, env=ENV, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        try:
            for n in range(4):
                shown = int(writer.stdout.readline())
                with Journal.read(path) as reader:
                    reader.backup(tmp_path / f"copy-{n}")
                with Journal.read(tmp_path / f"copy-{n}") as copy:
                    found = copy.verify()
                assert found.ok
                assert found.facts >= shown
        finally:
            writer.kill()


@pytest.mark.parametrize("there", ["text", "folder", "itself", "no folder", "a link to it"])
def test_nothing_else_is_written_over(tmp_path: Path, there: str) -> None:
    path = tmp_path / "record"
    to = {"itself": path, "no folder": tmp_path / "none" / "copy"}.get(there, tmp_path / "copy")
    if there == "text":
        to.write_text("a layup diary")
    elif there == "folder":
        to.mkdir()
    elif there == "a link to it":
        to.symlink_to(path)
    with Journal.open(path) as journal:
        journal.append(poured())
        with pytest.raises(RecordError, match="cannot be written to") as refused:
            journal.backup(to)
        assert refused.value.say.endswith(".")
        assert journal.verify().facts == 7
    if there == "text":
        assert to.read_text() == "a layup diary"
    assert not list(tmp_path.glob(".*part*"))


@pytest.mark.parametrize("there", ["another", "further"])
def test_a_record_that_is_no_older_copy_is_not_written_over(tmp_path: Path, there: str) -> None:
    path, other = tmp_path / "record", tmp_path / "other"
    with Journal.open(path) as journal:
        journal.append(poured())
        if there == "further":
            journal.backup(other)
        with Journal.open(other) as second:
            second.append([live(7)])
        before = other.read_bytes()
        with pytest.raises(RecordError, match="holds facts that this record does not"):
            journal.backup(other)
    assert other.read_bytes() == before


@pytest.mark.parametrize("held", ["open", "claimed", "cut off"])
def test_a_record_that_is_in_use_is_not_written_over(tmp_path: Path, held: str) -> None:
    """SQLite would play the old record's log upon the copy."""
    path, used = tmp_path / "record", tmp_path / "used"
    with Journal.open(path) as journal:
        journal.append(poured())
        with Journal.open(used) as other:
            other.append([*poured(), live()])
            if held == "claimed":
                other.claim()
            if held == "cut off":
                for name in ("used", "used-wal"):
                    (tmp_path / f"cut-{name}").write_bytes((tmp_path / name).read_bytes())
            to = tmp_path / ("cut-used" if held == "cut off" else "used")
            with pytest.raises(RecordError, match=r"open, or was cut off|Another cupside"):
                journal.backup(to)
            other.append(poured(2))
            assert other.verify().facts == 15
    with Journal.read(tmp_path / "used") as reader:
        assert reader.verify().facts == 15


def test_a_copy_is_what_the_record_was(tmp_path: Path) -> None:
    """Over an older copy that was closed in good order."""
    path, older = tmp_path / "record", tmp_path / "older"
    with Journal.open(older) as other:
        other.append(poured()[:3])
    with Journal.open(path) as journal:
        journal.append(poured())
        journal.backup(older)
        head = journal.head()
    with Journal.open(older) as copy:
        assert copy.head() == head
        assert list(copy.entries(2)) == []
        copy.append([live()])
        assert copy.verify(head[1]).facts == 8


def test_what_is_no_file_is_not_replaced(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "record") as journal:
        journal.append(poured())
        with pytest.raises(RecordError, match="not a file"):
            journal.backup(os.devnull)


def test_a_damaged_record_is_not_copied_over_a_whole_copy(tmp_path: Path) -> None:
    path, copy = tmp_path / "record", tmp_path / "copy"
    with Journal.open(path) as journal:
        for batch in range(1, 60):
            journal.append(poured(batch))
        journal.backup(copy)
    before = copy.read_bytes()
    with path.open("r+b") as file:
        file.seek(4096 * 8)
        file.write(b"\xa5" * 4096 * 4)
    with Journal.read(path) as reader, pytest.raises(RecordError):
        reader.backup(copy)
    assert copy.read_bytes() == before


def test_a_disk_that_takes_nothing_keeps_nothing(tmp_path: Path) -> None:
    """Not even the lock, which is made before the copy."""
    with Journal.open(tmp_path / "record") as journal:
        journal.append(poured())
        (tmp_path / "copies").mkdir()
        soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
        try:
            with pytest.raises(RecordError, match=r"could not be read or written.*\.$"):
                journal.backup(tmp_path / "copies" / "copy")
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        assert list((tmp_path / "copies").iterdir()) == []
        journal.backup(tmp_path / "copies" / "copy")


def test_what_a_killed_copy_left_behind_is_cleared_away(tmp_path: Path) -> None:
    left = [tmp_path / f".copy.4711.part{end}" for end in ("", "-journal")]
    others = [tmp_path / name for name in (".copy.csv.4711.part", ".other.4711.part", "copy.part")]
    for part in (*left, *others):
        part.write_bytes(b"half")
    with Journal.open(tmp_path / "record") as journal:
        journal.append(poured())
        journal.backup(tmp_path / "copy")
    assert not any(part.exists() for part in left)
    assert all(part.exists() for part in others)
