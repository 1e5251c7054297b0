"""What the bench does for the window's sake."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

import pytest
from support.facts import OPENED, fact
from support.shed import ASKED, HandClock, Shed

from devices.readings import Reading
from mixer.app.bench import shelf
from mixer.app.bench.awake import Awake
from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.life.cup_life import OLD_S
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.pour.inputs import Key
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

BEGIN = """
import gc, sys, threading
from pathlib import Path
from mixer.app.bench import shelf
from mixer.app.bench.awake import Awake
from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.app.request import Request

board = Board(Picture())
bench = Bench(Path(sys.argv[1]), Clock(), board, lambda said: None, None, None)
bench.handle(Request("sample-36", "60g", "sim:"))
assert board.newest.outcome is None, board.newest.say
for thread in threading.enumerate():
    if thread.name == "units":
        thread.join()
assert "pint" in sys.modules  # the largest part of what is looked through
print(gc.get_freeze_count(), len(gc.get_objects()))
bench.end("the test is over")
"""


def test_what_was_loaded_is_not_looked_through_for_garbage_in_mid_pour(tmp_path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", BEGIN, str(tmp_path / "record")],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    aside, looked_through = map(int, done.stdout.split())
    assert aside > 10 * looked_through


def test_a_new_record_is_said_once(tmp_path: Path) -> None:
    record, clock = tmp_path / "boat.cupside", HandClock()
    for fresh in (True, False):
        board = Board(Picture())
        bench = Bench(record, clock, board, lambda said: None, None, None)
        bench.look_for_record()
        bench.handle(Request("sample-36", "60g", "sim:"))
        clock.pass_s(0.1)
        bench.handle(Reading(0, "0.0 g", "g", 100_000, True, at_s=clock.at_s))
        assert board.newest.batch is not None
        assert (f"A new record is begun at {record}." in board.newest.say) == fresh
        assert board.newest.say.endswith("The empty pan is being looked at.")  # what is to be done
        bench.end("done")


def test_what_was_refused_is_not_said_any_more_once_it_was_taken(tmp_path: Path) -> None:
    clock, board = HandClock(), Board(Picture())
    bench = Bench(tmp_path / "record", clock, board, lambda said: None, None, None)
    bench.handle(Request("sample-36", "60g", "sim:"))

    def show(mass_g: float, for_s: float, to_g: float | None = None) -> None:
        for i in range(round(for_s * 10)):
            clock.pass_s(0.1)
            at = mass_g + ((to_g or mass_g) - mass_g) * i / (for_s * 10)
            mass_ug = round(at * 10) * 100_000
            still = to_g is None
            bench.handle(
                Reading(mass_ug, f"{mass_ug / 1e6:.1f} g", "g", 100_000, still, at_s=clock.at_s)
            )
            bench.tick(clock.at_s)

    show(0, 2)
    show(12, 3)
    show(12, 10, 56)
    bench.handle(Key(clock.at_s, "go"))
    refusal = board.newest.say
    assert "rest" in refusal
    assert board.newest.component == "resin"
    show(56.1, 2.8)
    bench.handle(Key(clock.at_s, "go"))
    assert board.newest.component == "hardener"
    assert board.newest.say != refusal
    bench.end("done")


def test_a_batch_that_another_program_is_making_was_not_cut_off(tmp_path: Path) -> None:
    record, clock = tmp_path / "boat.cupside", HandClock()
    first = Bench(record, clock, Board(Picture()), lambda said: None, None, None)
    first.handle(Request("sample-36", "60g", "sim:"))
    for tenth in range(60):
        clock.pass_s(0.1)
        mass_ug = 0 if tenth < 20 else 12_000_000
        said = f"{mass_ug / 1e6:.1f} g"
        first.handle(Reading(mass_ug, said, "g", 100_000, True, at_s=clock.at_s))
    for on in (True, False):
        board = Board(Picture())
        second = Bench(record, clock, board, lambda said: None, None, None)
        second.look_for_record()
        second.end("done")
        assert ("was cut off" in board.newest.say) != on
        assert (board.newest.offer is None) == on
        if on:
            assert board.newest.say == "Another cupside is making a batch in this record."
            first.end("", to_go_on=True)


@pytest.mark.parametrize("cut_in", ["resin_is_in", "all_is_in"])
@pytest.mark.parametrize("fails", ["open", "claim"])
def test_what_was_cut_off_is_told_of_a_record_that_takes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: str, cut_in: str
) -> None:
    shed = Shed(tmp_path)
    getattr(shed, cut_in)()
    shed.clock.pass_s(200)
    shed.journal.close()

    def full(*given: object, **asked: object) -> Journal:
        raise RecordError("The disk is full: make room.")

    monkeypatch.setattr(Journal, fails, full)
    board = Board(Picture())
    bench = Bench(shed.record, shed.clock, board, lambda said: None, None, None)
    bench.look_for_record()
    told = board.newest.say
    bench.handle(ASKED)
    assert (board.newest.outcome, bench.exit_status) == ("refused", 2)
    age = ", and the clock of its cup runs on: hardener met resin 4 min ago"
    expected = (
        "The disk is full: make room. Batch 1, 60g of sample-36, was cut off 3 min ago"
        f"{age if cut_in == 'all_is_in' else ''}; leave its cup as it is, and once the record can "
        "be written to start again to go on with it."
    )
    assert board.newest.say == expected
    assert (told == expected) == (fails == "open")
    assert "was cut off 3 min ago" in told
    monkeypatch.undo()
    bench.handle(ASKED)
    shed.clock.pass_s(0.1)
    bench.handle(Reading(84_100_000, "84.1 g", "g", 100_000, True, at_s=shed.clock.at_s))
    assert (board.newest.batch, board.newest.held) == (
        (1, "restarted") if cut_in == "resin_is_in" else (1, None)
    )
    bench.end("done")


def test_what_another_program_is_making_was_not_cut_off_where_the_disk_is_full(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shed = Shed(tmp_path)
    shed.resin_is_in()
    shed.journal.claim()

    def full(*given: object, **asked: object) -> Journal:
        raise RecordError("The disk is full: make room.")

    monkeypatch.setattr(Journal, "open", full)
    board = Board(Picture())
    bench = Bench(shed.record, shed.clock, board, lambda said: None, None, None)
    bench.look_for_record()
    assert board.newest.say == "The disk is full: make room."
    bench.end("done")


@pytest.mark.parametrize("kind", ["real", "simulated"])
def test_the_computer_is_kept_awake_for_a_cup_that_may_be_hot(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    wishes: list[bool] = []
    monkeypatch.setattr(shelf, "Awake", lambda deliver: Awake(deliver, _never))
    monkeypatch.setattr(Awake, "want", lambda self, wanted: wishes.append(wanted))
    record, clock = tmp_path / "boat.cupside", HandClock()
    with Journal.open(record) as journal:
        moment = clock.now()
        batch = journal.open_batch(fact("opened", 0, **{**OPENED, "bench": kind}))
        live = fact("live", batch, cup=1, verdict="in-band", amounts_ug=[44_100_000, 15_900_000])
        journal.append([replace(live, at_ms=moment.at_ms, boot=moment.boot, utc=moment.utc)])
    bench = Bench(record, clock, Board(Picture()), lambda said: None, None, None)
    bench.look_for_record()
    bench.tick(clock.age_s())
    assert wishes.pop() == (kind == "real")
    clock.pass_s(OLD_S + 1)
    bench.tick(clock.age_s())
    assert not wishes.pop()  # whoever forgets to close it has a computer that sleeps again
    bench.end("done")
    assert not wishes.pop()


@contextmanager
def _never() -> Iterator[bool]:
    raise AssertionError("no system is asked in a test")
    yield True
