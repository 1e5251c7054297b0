"""A copy while it is written, proven by opening it; and no file written over by mistake."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

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
