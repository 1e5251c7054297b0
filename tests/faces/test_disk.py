"""A record that cannot be written: nothing shows that is not on disk, nothing is lost.

The disk is made to fail in two ways: at the moment of the commit, as SQLite says it when
a disk is full; and for a process of its own, by the system's limit on the size of files.
"""

from __future__ import annotations

import contextlib
import functools
import json
import resource
import signal
import sqlite3
import subprocess
import sys
from collections import Counter as Tally

import pytest
from support.command import Mix, one_sentence

from mixer.record.journal import Journal


class Disk:
    """Takes commits, or says that it is full."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.full = False
        self.refused = 0
        opened = functools.partial(Journal.open, before_commit=self._commit)
        monkeypatch.setattr("mixer.app.book.paperwork.Journal.open", opened)

    def _commit(self) -> None:
        if self.full:
            self.refused += 1
            error = sqlite3.OperationalError("database or disk is full")
            error.sqlite_errorname = "SQLITE_FULL"
            raise error


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    return Disk(monkeypatch)


def kinds(mix: Mix) -> list[str]:
    with Journal.open(mix.record) as journal:
        assert journal.verify().ok
        return [entry.kind for entry in journal.entries()]


def test_a_full_disk_holds_the_pour_until_there_is_room(mix: Mix, disk: Disk) -> None:
    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.counter.pour(to_g=48.8)
        mix.see(lambda line: line["cue"] == "next")
        before = kinds(mix)
        disk.full = True
        mix.say("go")
        told = mix.see(lambda line: line["held"] == "record")
        assert "disk is full" in told["say"]
        assert one_sentence(told["say"])
        assert (told["component"], told["cue"]) == ("resin", "wait")
        mix.clock.skip(0.7)
        mix.say("go")  # is not taken, and not kept for later
        mix.clock.skip(0.7)
        since = mix.clock.age_s()
        mix.see(lambda line: line["t"] > since + 1)
        assert disk.refused >= 3
        assert kinds(mix) == before
        assert all(line["component"] != "hardener" for line in mix.lines)
        disk.full = False
        mix.see(lambda line: line["component"] == "hardener" and line["held"] is None)
        mix.counter.pour(to_g=62.0)
        mix.see(lambda line: line["cue"] == "next")
        mix.clock.skip(0.7)
        mix.say("go")

    assert mix.run(director, "--stir", "1s") == 0
    tally = Tally(kinds(mix))
    assert (tally["accepted"], tally["called"], tally["live"]) == (2, 2, 1)
    assert mix.row()["verdict"] == "in-band"
    assert mix.err == ""


def test_a_record_that_takes_nothing_in_holds_the_pour_until_it_does(mix: Mix) -> None:
    """A trigger that swallows what is stored, put there in mid-pour."""

    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.counter.pour(to_g=48.8)
        mix.see(lambda line: line["cue"] == "next")
        before = kinds(mix)
        spoil(mix, "CREATE TRIGGER away BEFORE INSERT ON facts BEGIN SELECT raise(IGNORE); END")
        mix.say("go")
        told = mix.see(lambda line: line["held"] == "record")
        assert "facts may not be found" in told["say"]
        assert one_sentence(told["say"])
        assert all(line["component"] != "hardener" for line in mix.lines)
        spoil(mix, "DROP TRIGGER away")
        assert kinds(mix) == before
        mix.see(lambda line: line["component"] == "hardener" and line["held"] is None)
        mix.say("drop")

    assert mix.run(director) == 1
    assert Tally(kinds(mix))["called"] == 2


def spoil(mix: Mix, statement: str) -> None:
    with contextlib.closing(sqlite3.connect(mix.record)) as db, db:
        db.execute(statement)


def test_a_disk_that_is_full_from_the_start_begins_when_there_is_room(mix: Mix, disk: Disk) -> None:
    def director(mix: Mix) -> None:
        disk.full = True
        mix.counter.mood = "well"
        told = mix.see(lambda line: line["held"] == "record")
        assert "disk is full" in told["say"]
        mix.clock.skip(60)  # weights come, so this is no scale that is missing
        mix.see(lambda line: line["t"] > mix.clock.age_s() - 0.5)
        assert mix.status is None
        assert kinds(mix) == []
        disk.full = False
        mix.place_cup()
        mix.say("drop")

    mix.counter.mood = "silent"
    assert mix.run(director) == 1
    assert Tally(kinds(mix))["opened"] == 1


def test_an_end_that_could_not_be_recorded_is_not_shown_as_done(mix: Mix, disk: Disk) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        disk.full = True
        signal.raise_signal(signal.SIGINT)

    assert mix.run(director) == 1
    assert mix.last["stage"] == "pour"
    assert "is not recorded" in mix.last["say"]
    assert "disk is full" in mix.last["say"]
    assert mix.err.strip() == mix.last["say"]
    assert kinds(mix)[-1] == "begun"
    assert mix.row()["outcome"] == "open"


def test_a_real_file_that_may_not_grow_and_then_may(mix: Mix) -> None:
    command = [
        sys.executable, "-m", "mixer", "mix", "--resin", "sample-36", "--size", "50g", "--jsonl",
        "--port", str(mix.counter.path), "--record", str(mix.record),
    ]  # fmt: skip
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        limited = mended = False
        seen: list[dict[str, object]] = []
        for line in process.stdout:
            seen.append(json.loads(line))
            if seen[-1]["cue"] == "place" and not limited:
                limits = (4096, resource.RLIM_INFINITY)  # not even into the room of its log
                resource.prlimit(process.pid, resource.RLIMIT_FSIZE, limits)
                limited = True
                mix.counter.grams = 12
            elif seen[-1]["held"] == "record" and not mended:
                assert all(line["stage"] == "cup" for line in seen)
                unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
                resource.prlimit(process.pid, resource.RLIMIT_FSIZE, unlimited)
                mended = True
            elif seen[-1]["stage"] == "pour":
                process.stdin.write("drop\n")
                process.stdin.flush()
                break
        assert json.loads(process.stdout.readlines()[-1])["stage"] == "ended"
        assert process.stderr.read() == ""
    assert mended
    assert process.returncode == 1
    tally = Tally(kinds(mix))
    assert (tally["opened"], tally["tared"], tally["ended"]) == (1, 1, 1)
