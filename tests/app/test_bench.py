"""What the bench does for the window's sake."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from support.shed import HandClock

from devices.readings import Reading
from mixer.app.bench import Bench
from mixer.app.board import Board
from mixer.app.picture import Picture
from mixer.app.request import Request

BEGIN = """
import gc, sys
from pathlib import Path
from mixer.app.bench import Bench
from mixer.app.board import Board
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.app.request import Request

board = Board(Picture())
bench = Bench(Path(sys.argv[1]), Clock(), board, lambda said: None, None, None)
bench.handle(Request("sample-36", "60g", "sim:"))
assert board.newest.outcome is None, board.newest.say
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
        bench.end("done")
