"""One writer at a time; a second is told so, and nobody waits for one that was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from support.facts import fact, live, poured
from support.programs import ENV
from support.rights import as_somebody, where_anybody_may_write

from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

CLAIM = """
import sys, time
from mixer.record.journal import Journal
journal = Journal.open(sys.argv[1])
journal.claim()
print("claimed", flush=True)
time.sleep(60)
"""


def test_who_claims_it_writes_alone(tmp_path: Path) -> None:
    path = tmp_path / "record.cupside"
    with Journal.open(path) as one, Journal.open(path, busy_s=0.05) as two:
        two.append(poured(1))
        one.claim()
        one.claim()  # it has it already
        for write in (
            lambda: two.append([live(1)]),
            lambda: two.open_batch(fact("opened")),
            two.claim,
        ):
            with pytest.raises(RecordError, match="Another cupside is writing to the record"):
                write()
        one.append([live(1)])
        assert list(two.entries()) == [*poured(1), live(1)]
        one.release()
        two.append([fact("noted")])
        two.claim()
        with pytest.raises(RecordError, match="Another cupside"):
            Journal.open(path, busy_s=0.05).append([fact("noted")])
        two.close()
        one.append([fact("noted")])
        assert one.verify().facts == 10


def test_a_lock_whose_file_was_deleted_is_taken_anew_unless_another_has_it(tmp_path: Path) -> None:
    path = tmp_path / "record.cupside"
    lock = tmp_path / "record.cupside-lock"
    with Journal.open(path, busy_s=0.05) as one, Journal.open(path, busy_s=0.05) as two:
        one.claim()
        lock.unlink()
        one.append(poured())
        with pytest.raises(RecordError, match="Another cupside"):
            two.claim()
        lock.unlink()
        two.claim()
        with pytest.raises(RecordError, match="Another cupside"):
            one.append([live()])
        two.append([live()])
        two.release()
        one.append([fact("noted")])
        assert one.verify().facts == 9


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_a_killed_writer_leaves_it_free(tmp_path: Path) -> None:
    path = tmp_path / "record.cupside"
    command = [sys.executable, "-c", CLAIM, str(path)]
    with subprocess.Popen(command, env=ENV, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "claimed\n"
        with Journal.open(path, busy_s=0.05) as journal:
            with pytest.raises(RecordError, match="end that one first"):
                journal.append(poured())
            other.send_signal(signal.SIGKILL)
            other.wait(10)
            journal.append(poured())


def test_a_link_to_the_record_is_the_record(tmp_path: Path) -> None:
    path, link = tmp_path / "record.cupside", tmp_path / "link.cupside"
    with Journal.open(path) as one:
        link.symlink_to(path)
        one.claim()
        with (
            Journal.open(link, busy_s=0.05) as two,
            pytest.raises(RecordError, match="Another cupside"),
        ):
            two.append(poured())


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
def test_a_lock_that_may_only_be_read_is_none() -> None:
    """SQLite would let two programs have it."""
    with where_anybody_may_write() as record:
        for part in record.parent.iterdir():
            part.chmod(0o666)
        lock = record.with_name("record-lock")
        lock.chmod(0o444)
        with as_somebody(), Journal.open(record) as journal:
            for write in (journal.claim, lambda: journal.append([live()])):
                with pytest.raises(RecordError, match="record-lock, may only be read"):
                    write()
            assert journal.head()[0] == 7
        lock.chmod(0o666)
        with as_somebody(), Journal.open(record) as journal:
            journal.append([live()])
