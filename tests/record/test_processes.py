"""Other processes: killed while writing, and several writing at once."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from support.programs import ENV

from mixer.record.journal import Journal
from mixer.record.trouble import look_beside

# Says each number only after its fact was appended, as a face would show it.
WRITE_FOR_EVER = """
import sys
from mixer.record.journal import Journal
from support.facts import fact
journal = Journal.open(sys.argv[1])
while True:
    print(journal.append([fact("noted", text="x" * 500)])[-1].seq, flush=True)
"""

WRITE_SOME = """
import sys
from mixer.record.journal import Journal
from support.facts import fact, opened
journal = Journal.open(sys.argv[1], busy_s=30)
for _ in range(20):
    batch = journal.open_batch(opened(batch=0, operator=sys.argv[2]))
    journal.append([fact("noted", batch, text=sys.argv[2]), fact("noted", batch)])
"""


def start(script: str, *args: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", script, *args]
    return subprocess.Popen(command, env=ENV, stdout=subprocess.PIPE, text=True)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
@pytest.mark.parametrize("after", [1, 40])
def test_a_killed_writer_has_lost_nothing_that_it_had_shown(tmp_path: Path, after: int) -> None:
    path = tmp_path / "record.db"
    with start(WRITE_FOR_EVER, str(path)) as writer:
        assert writer.stdout is not None
        shown = [int(writer.stdout.readline()) for _ in range(after)]
        writer.send_signal(signal.SIGKILL)
        shown += [int(line) for line in writer.stdout]
    with Journal.open(path) as journal:
        found = len(list(journal.entries()))
        # One more may have reached the disk than could be said.
        assert shown[-1] <= found <= shown[-1] + 1
        assert journal.verify().ok
        journal.open_batch(next(journal.entries()))  # and it is written on
        assert journal.verify().ok


def test_a_log_that_comes_while_it_is_looked_for_has_its_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program makes the record just now: neither was there, then both are."""
    monkeypatch.setattr(Path, "exists", lambda path: True)
    look_beside(tmp_path / "record.db")


def test_two_writers_keep_one_chain(tmp_path: Path) -> None:
    path = tmp_path / "record.db"  # not there: both also make it at once
    writers = [start(WRITE_SOME, str(path), name) for name in ("one", "two", "three")]
    assert [writer.wait(60) for writer in writers] == [0, 0, 0]
    for writer in writers:
        assert writer.stdout is not None
        writer.stdout.close()
    with Journal.open(path) as journal:
        assert journal.verify().ok
        entries = list(journal.entries())
        assert len(entries) == 3 * 20 * 3
        by = {e.batch: e.data["operator"] for e in entries if e.kind == "opened"}
        assert sorted(by) == list(range(1, 61))
        assert all(e.data.get("text", by[e.batch]) == by[e.batch] for e in entries)
