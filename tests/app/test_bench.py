"""What the bench does for the window's sake."""

from __future__ import annotations

import subprocess
import sys

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
