"""The computer stays awake while it is needed, and no system can keep a batch from being poured."""

from __future__ import annotations

import queue
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.bench.awake import Answered, Awake


class System:
    """Agrees or not; ``held`` while it keeps the computer awake."""

    def __init__(self, agrees: bool = True) -> None:
        self.agrees, self.held, self.times = agrees, False, 0
        self.answered: queue.SimpleQueue[object] = queue.SimpleQueue()
        self.freed: queue.SimpleQueue[None] = queue.SimpleQueue()

    @contextmanager
    def keep(self) -> Iterator[bool]:
        self.held = True
        self.times += 1
        yield self.agrees
        self.held = False
        self.freed.put(None)


def test_it_is_kept_awake_from_the_wish_to_the_end_of_it() -> None:
    system = System()
    awake = Awake(system.answered.put, system.keep)
    for _ in range(2):
        awake.want(True)
        awake.want(True)
        assert system.answered.get(timeout=60) == Answered()
        assert system.held
        assert not awake.may_sleep
        awake.want(False)
        system.freed.get(timeout=60)
        assert not system.held
    awake.close()
    assert system.times == 2


def test_a_system_that_will_not_is_told_while_it_matters() -> None:
    system = System(agrees=False)
    awake = Awake(system.answered.put, system.keep)
    assert not awake.may_sleep
    awake.want(True)
    system.answered.get(timeout=60)
    assert awake.may_sleep
    awake.want(False)
    assert not awake.may_sleep
    awake.close()


@pytest.mark.parametrize("broken", ["on the way in", "on the way out"])
def test_whatever_a_system_does_it_goes_on(broken: str) -> None:
    @contextmanager
    def keep() -> Iterator[bool]:
        if broken == "on the way in":
            raise RuntimeError("no such service")
        yield True
        raise RuntimeError("it went")

    answered: queue.SimpleQueue[object] = queue.SimpleQueue()
    awake = Awake(answered.put, keep)
    for _ in range(3):
        awake.want(True)
        answered.get(timeout=60)
        assert awake.may_sleep == (broken == "on the way in")
        awake.want(False)
    awake.close()


@given(wishes=st.lists(st.booleans(), max_size=8))
def test_nothing_is_held_once_it_is_closed(wishes: list[bool]) -> None:
    system = System()
    awake = Awake(system.answered.put, system.keep)
    for wish in wishes:
        awake.want(wish)
    awake.close()
    assert not system.held
    assert all(thread.name != "awake" for thread in threading.enumerate())


def test_the_wish_itself_waits_for_no_system() -> None:
    let_go = threading.Event()

    @contextmanager
    def keep() -> Iterator[bool]:
        let_go.wait(60)
        yield True

    answered: queue.SimpleQueue[object] = queue.SimpleQueue()
    awake = Awake(answered.put, keep)
    awake.want(True)  # returns, though the system has not answered
    assert answered.empty()
    let_go.set()
    answered.get(timeout=60)
    awake.close()


@pytest.mark.parametrize("there", [False, True])
def test_the_systems_own_way(there: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing can be asked (no session's bus, as in a bare terminal) it may sleep; the
    library's own switch for tests stands for a system that agrees."""
    for name in ("DBUS_SESSION_BUS_ADDRESS", "WAKEPY_FAKE_SUCCESS"):
        monkeypatch.delenv(name, raising=False)
    if there:
        monkeypatch.setenv("WAKEPY_FAKE_SUCCESS", "yes")
    answered: queue.SimpleQueue[object] = queue.SimpleQueue()
    awake = Awake(answered.put)
    awake.want(True)
    assert answered.get(timeout=60) == Answered()
    if there or sys.platform == "linux":
        assert awake.may_sleep != there
    awake.close()
