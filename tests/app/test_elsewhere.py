"""The other process that thinks: its answers, its errors, and that it goes."""

from __future__ import annotations

import os
import signal
import time
from functools import partial
from pathlib import Path

import pytest

from mixer.app.life.elsewhere import Elsewhere
from mixer.app.life.seer import Seer


def gone(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().split()[2] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


def test_it_answers_raises_goes_and_comes_again() -> None:
    mind = Elsewhere()
    pid = mind.think(os.getpid)
    assert pid != os.getpid()
    assert mind.think(os.getpid) == pid
    with pytest.raises(ValueError, match="invalid literal"):
        mind.think(partial(int, "x"))
    assert mind.think(partial(print, "a word")) is None  # what is printed comes not between
    os.kill(pid, signal.SIGINT)  # meant for the program that asks
    assert mind.think(os.getpid) == pid
    mind.rest()
    assert gone(pid)
    other = mind.think(os.getpid)
    os.kill(other, signal.SIGKILL)
    with pytest.raises((OSError, EOFError)):
        mind.think(os.getpid)
    assert mind.think(os.getpid) not in (pid, other)
    mind.rest()
    mind.rest()


def test_what_fails_is_told_and_the_next_question_answered() -> None:
    seer = Seer(lambda thought: None)
    seer.ask(1, partial(int, "x"))
    seer.ask(2, partial(int, "2"))
    seer.wait(60)
    (one, failed), answered = seer.take()
    assert (one, type(failed), answered) == (1, ValueError, (2, 2))
    seer.ask(3, os.getpid)
    seer.wait(60)
    ((_, pid),) = seer.take()
    seer.close()
    until = time.monotonic() + 60
    while not gone(pid) and time.monotonic() < until:
        time.sleep(0.01)
    assert gone(pid)
