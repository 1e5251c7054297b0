"""The program behind its faces: one inbox, one bench thread, one newest picture.

Readings, keys and ticks meet in the inbox; the bench thread alone works the bench. A
face calls the methods of :class:`Shop` from its own thread, and none of them waits for a
disk, but for ``stop``. Whatever fails at the bench ends the batch that is on, with a
sentence; it must never end the thread, or a face would wait for ever.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.bench.shelf import Close
from mixer.app.clock import Clock
from mixer.app.files import profiles
from mixer.app.picture import Picture
from mixer.app.request import TYPED, Choices, Request
from mixer.pour.inputs import Key

if TYPE_CHECKING:
    from mixer.app.bench.visitor import Visitor

TICK_S = 0.1
STOP_S = 10.0  # a last commit may have to wait for another program that is writing

CHOOSE = "Choose resin, size and port."


@dataclass(frozen=True, slots=True)
class _Stop:
    why: str
    to_go_on: bool


class Shop:
    """``give_up_s`` is how long a lost scale is waited for in mid-pour (``None``: for ever,
    as in the window). A ``visitor`` works the jugs of the simulated bench in the place of
    its person. The record is opened if it is there, or made when a first batch begins."""

    def __init__(
        self,
        record: Path,
        *,
        clock: Clock | None = None,
        give_up_s: float | None = 60.0,
        visitor: Visitor | None = None,
    ) -> None:
        self._clock = clock or Clock()
        self._inbox: queue.SimpleQueue[object] = queue.SimpleQueue()
        self._board = Board(Picture(cue="wait", say=CHOOSE))
        self._bench = Bench(record, self._clock, self._board, self._inbox.put, give_up_s, visitor)
        self._thread = threading.Thread(target=self._run, name="bench", daemon=True)

    def start_up(self) -> None:
        """Start the bench thread."""
        self._thread.start()

    def picture(self) -> Picture:
        """The newest picture; never waits."""
        return self._board.newest

    def wait(self, serial: int, timeout_s: float) -> Picture:
        """The newest picture, as soon as it is newer than ``serial``, or after the time."""
        return self._board.wait(serial, timeout_s)

    def on_change(self, call: Callable[[], None]) -> None:
        """From now on call this, from the bench thread, when there is a newer picture."""
        self._board.on_change = call

    def exit_status(self) -> int | None:
        """``None`` while a batch is on; then 0, 1, 2 or 3 as the command line promises."""
        return self._bench.exit_status

    def choices(self) -> Choices:
        """What there is to choose from, by name."""
        from serial.tools.list_ports import comports

        ports = tuple(sorted(port.device for port in comports()))
        resins, cups, scales = (tuple(profiles.names(k)) for k in ("resins", "cups", "scales"))
        return Choices(resins, cups, scales, (*ports, "sim:", TYPED))

    def start(self, request: Request) -> None:
        """Begin a batch; a refusal shows as ``say``, and as the exit status."""
        self._bench.exit_status = None
        newest = self._board.newest
        waiting = Picture(
            cue="wait",
            say="One moment.",
            live_cups=newest.live_cups,
            cup_rings=newest.cup_rings,
        )
        self._board.publish(waiting, self._clock.age_s())
        self._inbox.put(request)

    def key(self, word: str, text: str = "") -> None:
        """A word of the builder's: ``go``, ``hold``, ``drop``, ``note`` with its text, ``jug``
        with its tag, ``air`` with its temperature, or ``thick`` with the cup; at a scale with
        no cable ``shows`` with its figure, which ``go`` may have too."""
        self._inbox.put(Key(self._clock.age_s(), word, text.strip()))

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        """Close a live cup, or split it (see :class:`mixer.app.bench.shelf.Close`)."""
        self._inbox.put(Close(cup, how, left))

    def stop(self, why: str, *, to_go_on: bool = False) -> None:
        """End the bench; a pour that is on is interrupted, or with ``to_go_on`` left open for
        the next start, and the journal says so and why.

        Returns when that is on disk, or after ten seconds.
        """
        self._inbox.put(_Stop(why, to_go_on))
        if self._thread.is_alive():
            self._thread.join(timeout=STOP_S)

    def _run(self) -> None:
        bench, clock = self._bench, self._clock
        self._safely(bench.look_for_record)
        ticked_s = clock.age_s()
        while True:
            try:
                happened = self._inbox.get(timeout=TICK_S / clock.speed)
            except queue.Empty:
                happened = None
            if isinstance(happened, _Stop):
                self._safely(bench.end, happened.why, happened.to_go_on)
                return
            self._safely(bench.handle, happened)
            now_s = clock.age_s()
            if now_s - ticked_s >= TICK_S:  # readings may leave the queue no empty moment
                ticked_s = now_s
                self._safely(bench.tick, now_s)

    def _safely(self, do: Callable[..., None], *given: object) -> None:
        try:
            do(*given)
        except Exception as error:
            self._bench.break_off(error)
