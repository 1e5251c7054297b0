"""The window is woken from another thread, once or often, and not after its end."""

from __future__ import annotations

import os
import signal
import threading
import time
import tkinter as tk
from collections.abc import Callable, Iterator

import pytest
from support.desk import Opener

from mixer.app import endings
from mixer.app.picture import Picture
from mixer.desk.bell import Bell


@pytest.fixture
def root(screen: str) -> Iterator[tk.Tk]:
    window = tk.Tk()
    yield window
    window.destroy()


def ring(bell: Bell, times: int) -> None:
    thread = threading.Thread(target=lambda: [bell.ring() for _ in range(times)])
    thread.start()
    thread.join()


def run(root: tk.Tk, until: Callable[[], bool], within_s: float = 2.0) -> None:
    limit_s = time.monotonic() + within_s
    while not until() and time.monotonic() < limit_s:
        root.update()
        time.sleep(0.002)


@pytest.mark.parametrize("times", [1, 200_000])
def test_it_is_answered_in_the_windows_thread(root: tk.Tk, times: int) -> None:
    answered: list[int] = []
    bell = Bell(root, lambda: answered.append(threading.get_ident()))
    ring(bell, times)  # more than a pipe holds: it never waits for the window
    assert answered == []
    run(root, lambda: bool(answered))
    assert set(answered) == {threading.get_ident()}
    assert len(answered) < times or times == 1
    bell.close()


def test_after_its_end_it_is_silent(root: tk.Tk) -> None:
    answered: list[bool] = []
    bell = Bell(root, lambda: answered.append(True))
    bell.close()
    bell.close()
    ring(bell, 3)
    root.update()
    assert answered == []


def test_where_no_pipe_can_be_waited_for_the_window_looks_itself(
    root: tk.Tk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delattr(tk.Misc, "createfilehandler", raising=False)
    monkeypatch.delattr(tk.Tk, "createfilehandler", raising=False)
    monkeypatch.delattr(tk.Tk, "__getattr__")  # else the interpreter's own is found
    answered: list[bool] = []
    bell = Bell(root, lambda: answered.append(True))
    run(root, lambda: len(answered) > 3)
    bell.ring()
    bell.close()
    seen = len(answered)
    assert seen > 3
    root.update()
    time.sleep(0.05)
    root.update()
    assert len(answered) == seen


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_is_heeded_though_nothing_else_happens(
    opened: Opener, number: signal.Signals
) -> None:
    bench, shop = opened(Picture(stage="cup"))
    bench.window.root.update()
    rung = threading.Timer(3.0, bench.window._bell.ring)  # so that a failure ends too
    told = threading.Timer(0.3, os.kill, (os.getpid(), number))
    began_s = time.monotonic()
    with endings.heeded():
        told.start()
        rung.start()
        bench.window.run()
    rung.cancel()
    assert shop.stopped == f"interrupted {number.name}"
    assert time.monotonic() - began_s < 2
    assert signal.set_wakeup_fd(-1) == -1  # as it was before
