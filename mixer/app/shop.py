"""The program behind its faces: one inbox, one bench thread, one newest picture.

Readings, keys and ticks meet in the inbox; the bench thread alone owns batch, scale and
record. A face calls the methods of :class:`Shop` from its own thread, and none of them
waits for a disk, but for ``stop``. Whatever fails in the bench thread ends the batch
that is on, with a sentence; it must never end the thread, or a face would wait for ever.
"""

from __future__ import annotations

import contextlib
import os
import queue
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from devices.link import LinkError
from devices.readings import About, Fault, Reading
from mixer.app import paint, profiles
from mixer.app.batch import Batch, one_line
from mixer.app.clock import Clock
from mixer.app.hookup import Hookup
from mixer.app.paperwork import NotDone, close_cup, open_record
from mixer.app.picture import Picture
from mixer.app.request import Choices, Request
from mixer.app.resolve import Refused, resolve
from mixer.app.visitor import Visitor
from mixer.pour.inputs import Failed, Input, Key, Tick, Weighed
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.views import LiveCup, free_cup_number, live_cups

TICK_S = 0.1
AGES_S = 1.0  # how often the ages of the live cups are told when nothing else happens
STOP_S = 10.0  # a last commit may have to wait for another program that is writing

CHOOSE = "Choose resin, size and port."


@dataclass(frozen=True, slots=True)
class _Close:
    cup: int
    how: str
    left: str | None


@dataclass(frozen=True, slots=True)
class _Stop:
    why: str


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
        self._record, self._give_up_s, self._visitor = record, give_up_s, visitor
        self._clock = clock or Clock()
        self._inbox: queue.Queue[object] = queue.Queue()
        self._changed = threading.Condition()
        self._picture = Picture(cue="wait", say=CHOOSE)
        self._exit: int | None = None
        self._thread = threading.Thread(target=self._run, name="bench", daemon=True)
        self._journal: Journal | None = None
        self._live: tuple[LiveCup, ...] = ()
        self._hookup: Hookup | None = None
        self._batch: Batch | None = None

    # -- what the faces call -------------------------------------------------------

    def start_up(self) -> None:
        """Start the bench thread."""
        self._thread.start()

    def picture(self) -> Picture:
        """The newest picture; never waits."""
        return self._picture

    def wait(self, serial: int, timeout_s: float) -> Picture:
        """The newest picture, as soon as it is newer than ``serial``, or after the time."""
        with self._changed:
            self._changed.wait_for(lambda: self._picture.serial > serial, timeout_s)
        return self._picture

    def exit_status(self) -> int | None:
        """``None`` while a batch is on; then 0, 1, 2 or 3 as the command line promises."""
        return self._exit

    def choices(self) -> Choices:
        """What there is to choose from, by name."""
        from serial.tools.list_ports import comports

        ports = tuple(sorted(port.device for port in comports()))
        resins, cups, scales = (tuple(profiles.names(k)) for k in ("resins", "cups", "scales"))
        return Choices(resins, cups, scales, (*ports, "sim:"))

    def start(self, request: Request) -> None:
        """Begin a batch; a refusal shows as ``say``, and as the exit status."""
        self._exit = None
        self._publish(Picture(cue="wait", say="One moment."))
        self._inbox.put(request)

    def key(self, word: str, text: str = "") -> None:
        """A word of the builder's: ``go``, ``hold``, ``drop``, or ``note`` with its text."""
        self._inbox.put(Key(self._clock.age_s(), word, one_line(text)))

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        """Close a live cup (see :func:`mixer.app.paperwork.close_cup`)."""
        self._inbox.put(_Close(cup, how, left))

    def stop(self, why: str) -> None:
        """End the bench; a pour that is on is interrupted, and the journal says so and why.

        Returns when that is on disk, or after ten seconds.
        """
        self._inbox.put(_Stop(why))
        if self._thread.is_alive():
            self._thread.join(timeout=STOP_S)

    # -- the bench thread ----------------------------------------------------------

    def _run(self) -> None:
        self._safely(self._look_for_record)
        ticked_s = self._clock.age_s()
        while True:
            try:
                happened = self._inbox.get(timeout=TICK_S / self._clock.speed)
            except queue.Empty:
                happened = None
            if isinstance(happened, _Stop):
                self._safely(self._end, happened.why)
                return
            self._safely(self._handle, happened)
            now_s = self._clock.age_s()
            if now_s - ticked_s >= TICK_S:  # readings may leave the queue no empty moment
                ticked_s = now_s
                self._safely(self._tick, now_s)

    def _safely(self, do: Callable[..., None], *given: object) -> None:
        try:
            do(*given)
        except Exception as error:
            self._break_off(error)

    def _handle(self, happened: object) -> None:
        if isinstance(happened, Request):
            self._begin(happened)
        elif isinstance(happened, _Close):
            self._close(happened)
        elif isinstance(happened, Reading):
            self._take(Weighed(happened))
        elif isinstance(happened, Fault):
            self._take(Failed(happened))
        elif isinstance(happened, About):
            self._heed(happened)
        elif isinstance(happened, Key):
            self._take(happened)

    def _tick(self, now_s: float) -> None:
        batch = self._on()
        if batch is None:
            if self._live and now_s - self._picture.t_s >= AGES_S:
                self._publish(self._picture)  # their clocks run on
            return
        if batch.stir_is_over(now_s):
            self._look_at_live_cups()  # another program may have taken a number since
        self._take(Tick(now_s, free_cup_number(self._live)))

    def _on(self) -> Batch | None:
        batch = self._batch
        return batch if batch is not None and batch.status is None else None

    def _begin(self, request: Request) -> None:
        if self._on() is not None:
            return  # no face offers it, and what is on must not be lost
        self._release()
        self._batch = None
        try:
            order = resolve(request)
            hookup = Hookup(order, self._clock, self._inbox.put, self._visitor)
        except Refused as error:
            self._refuse(2, str(error))
            return
        except LinkError as error:
            self._refuse(3, error.say)
            return
        self._hookup = hookup
        trouble = self._open_record()
        if self._journal is None:
            self._release()
            self._refuse(2, trouble)
            return
        self._batch = Batch(order, self._journal, self._clock, self._give_up_s)
        self._show()

    def _look_for_record(self) -> None:
        """The live cups of a record that is there, before any batch begins."""
        if os.path.isfile(self._record):
            trouble = self._open_record()
            self._publish(replace(self._picture, say=trouble or self._picture.say))

    def _open_record(self) -> str:
        """Open or make the record; a sentence where that cannot be."""
        if self._journal is None:
            try:
                self._journal = open_record(self._record)
            except NotDone as error:
                return str(error)
            self._look_at_live_cups()
        return ""

    def _heed(self, about: About) -> None:
        """The scale's own word on what it can carry counts where it is less."""
        batch = self._on()
        if batch is None or batch.number is not None or about.capacity_ug is None:
            return
        try:
            batch.order = batch.order.on_scale_of(about.capacity_ug)
        except Refused as error:
            batch.refuse(2, str(error))
            self._finish(batch)

    def _take(self, happened: Input) -> None:
        batch = self._on()
        if batch is None:
            return
        news = batch.take(happened)
        if batch.status is not None:
            self._finish(batch)
        elif news:
            self._show()

    def _finish(self, batch: Batch) -> None:
        status = batch.status
        if batch.number is None:
            self._release()
            self._refuse(1 if status is None else status, batch.refusal)
            return
        self._look_at_live_cups()
        self._show()
        self._release()
        self._exit = status

    def _end(self, why: str) -> None:
        batch = self._on()
        if batch is not None:
            unrecorded = batch.cut(why)
            if batch.status is not None:
                self._finish(batch)
            else:
                self._publish(replace(batch.picture(), say=unrecorded, outcome="unrecorded"))
        self._release()
        if self._journal is not None:
            self._journal.close()

    def _break_off(self, error: Exception) -> None:
        """A fault of the program's own: end the batch, say where it was, and go on."""
        batch, self._batch = self._on(), None
        at = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__} in {Path(at.filename).name}, line {at.lineno}"
        say = f"The program itself failed ({where})."
        picture = self._picture
        if batch is not None:
            say += " The batch ended; what was weighed until then stands in the record."
            picture = replace(picture, stage="ended", held=None, cue="wait")
            with contextlib.suppress(Exception):
                batch.cut("the program itself failed")
                picture = batch.picture()
        with contextlib.suppress(Exception):
            self._release()
        self._publish(replace(picture, say=say, outcome="failed"))
        self._exit = 1

    def _close(self, wish: _Close) -> None:
        try:
            said = close_cup(self._record, wish.cup, wish.how, wish.left)
            self._look_at_live_cups()
        except NotDone as error:
            said = str(error)
        batch = self._on()
        if batch is None:
            self._publish(replace(self._picture, say=said))
        else:
            batch.tell(said)
            self._show()

    def _look_at_live_cups(self) -> None:
        """Those of the record; the ones known before, where it cannot be read just now."""
        if self._journal is not None:
            with contextlib.suppress(RecordError):
                self._live = live_cups(self._journal.entries(having="live", lacking=["closed"]))

    def _release(self) -> None:
        hookup, self._hookup = self._hookup, None
        if hookup is not None:
            hookup.close()

    def _refuse(self, status: int, sentence: str) -> None:
        self._publish(Picture(cue="wait", say=sentence, outcome="refused"))
        self._exit = status

    # -- the picture ---------------------------------------------------------------

    def _show(self) -> None:
        if self._batch is not None:
            self._publish(self._batch.picture())
            if self._hookup is not None:
                self._hookup.show(self._picture)

    def _publish(self, picture: Picture) -> None:
        now_s = self._clock.age_s()
        cups = paint.live_cups(self._live, now_s, self._clock.boot, self._clock.utc())
        with self._changed:
            self._picture = replace(
                picture, live_cups=cups, serial=self._picture.serial + 1, t_s=now_s
            )
            self._changed.notify_all()
