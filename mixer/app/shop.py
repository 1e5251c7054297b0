"""The bench thread: one owner of pour and journal, and the newest picture for the faces.

Readings, keys and ticks meet here in one queue; facts are on disk before a picture
shows them. A face calls the methods of :class:`Shop` from its own thread; none of
them waits for a disk, but for ``stop``.
"""

from __future__ import annotations

import os
import queue
import threading
from dataclasses import dataclass, replace
from pathlib import Path

from devices.dialects.sma import Sma
from devices.link import LineSettings, Link, LinkError, open_link
from devices.readings import About, Fault, Reading
from devices.scale import Health, Scale, health
from mixer.app import paint, profiles
from mixer.app.clock import Clock
from mixer.app.picture import Picture, ScaleView
from mixer.app.request import Choices, Request
from mixer.app.resolve import Order, Refused, resolve
from mixer.app.simulated import Simulation
from mixer.app.visitor import Visitor
from mixer.pour.coach import Coach, advise
from mixer.pour.decide import decide
from mixer.pour.facts import Fact, Opened, to_plain
from mixer.pour.inputs import Cut, Failed, Input, Key, Tick, Weighed
from mixer.pour.sight import Sight, is_double_press, observe
from mixer.pour.state import Pour, begin, evolve
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.views import LiveCup, free_cup_number, live_cups

STATION = "bench"
FIRST_READING_S = 5.0
TICK_S = 0.1


def record_path(option: str | None) -> Path:
    """The record: the option, else ``CUPSIDE_RECORD``, else the platform's data folder."""
    if chosen := option or os.environ.get("CUPSIDE_RECORD"):
        return Path(chosen)
    from platformdirs import user_data_dir

    return Path(user_data_dir("cupside")) / "build-record.cupside"


@dataclass(frozen=True, slots=True)
class _Close:
    cup: int
    how: str
    left: str | None


@dataclass(frozen=True, slots=True)
class _Stop:
    why: str


class Shop:
    """The program behind its faces. ``give_up_s`` is how long a lost scale is waited for
    in mid-pour (``None``: for ever, as in the window). A ``visitor`` works the jugs of
    the simulated bench in the place of its person."""

    def __init__(
        self,
        record: Path,
        *,
        clock: Clock | None = None,
        give_up_s: float | None = 60.0,
        visitor: Visitor | None = None,
    ) -> None:
        self._record, self._give_up_s = record, give_up_s
        self._visitor = visitor
        self._clock = clock or Clock()
        self._inbox: queue.Queue[object] = queue.Queue()
        self._changed = threading.Condition()
        self._picture = Picture(say="Choose resin, size and port.")
        self._exit: int | None = None
        self._thread = threading.Thread(target=self._run, name="bench", daemon=True)
        self._journal: Journal | None = None
        self._live: tuple[LiveCup, ...] = ()
        self._scale: Scale | None = None
        self._simulation: Simulation | None = None
        self._order: Order | None = None
        self._forget()

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
        """Begin a batch; a refusal shows as ``say``."""
        self._exit = None
        self._inbox.put(request)

    def key(self, word: str, text: str = "") -> None:
        """A word of the builder's."""
        self._inbox.put(Key(self._clock.age_s(), word, text))

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        """Close a live cup."""
        self._inbox.put(_Close(cup, how, left))

    def stop(self, why: str) -> None:
        """End the bench; a pour that is on is interrupted, and the journal says so and why."""
        self._inbox.put(_Stop(why))
        if self._thread.is_alive():
            self._thread.join(timeout=2.0)

    # -- the bench thread ----------------------------------------------------------

    def _forget(self) -> None:
        self._pour: Pour | None = None
        self._sight, self._coach = Sight(), Coach()
        self._batch = 0
        self._notice, self._notice_until_s = "", 0.0
        self._asked_s = 0.0

    def _run(self) -> None:
        try:
            self._journal = Journal.open(self._record)
            self._look_at_live_cups()
            self._show()
        except RecordError as error:
            self._refuse(2, str(error))
        ticked_s = self._clock.age_s()
        while True:
            try:
                happened = self._inbox.get(timeout=TICK_S / self._clock.speed)
            except queue.Empty:
                happened = ()
            if isinstance(happened, _Stop):
                self._cut(happened.why)
                return
            self._handle(happened)
            now_s = self._clock.age_s()
            if now_s - ticked_s >= TICK_S:  # readings may leave the queue no empty moment
                ticked_s = now_s
                self._handle(Tick(now_s, free_cup_number(self._live)))

    def _cut(self, why: str) -> None:
        now_s = self._clock.age_s()
        if self._order is not None and self._pour is not None:
            self._take_safely(Key(now_s, "note", f"program ended: {why}"))
        self._take_safely(Cut(now_s, "interrupted"))
        self._release()

    def _handle(self, happened: object) -> None:
        if isinstance(happened, Request):
            self._begin(happened)
        elif isinstance(happened, _Close):
            self._close(happened)
        elif isinstance(happened, Reading):
            self._take_safely(Weighed(happened))
        elif isinstance(happened, Fault):
            self._take_safely(Failed(happened))
        elif isinstance(happened, About):
            self._heed(happened)
        elif isinstance(happened, Key | Tick):
            self._take_safely(happened)

    def _begin(self, request: Request) -> None:
        if self._journal is None:
            return
        self._release()
        self._forget()
        try:
            order = resolve(request)
            settings = order.scale
            if order.simulated:
                self._simulation = Simulation(order, self._clock.speed, visitor=self._visitor)
            url = self._simulation.url if self._simulation else order.port
            line = LineSettings(
                settings.baud, settings.bytesize, settings.parity, settings.stopbits
            )
            first = open_link(url, line)
        except Refused as error:
            self._refuse(2, str(error))
            return
        except LinkError as error:
            self._release()
            self._refuse(3, error.say)
            return
        ready: list[Link] = [first]

        def opener() -> Link:
            return ready.pop() if ready else open_link(url, line)

        self._order, self._asked_s = order, self._clock.age_s()
        self._exit = None
        self._scale = Scale(
            opener, Sma(settings.ask), self._clock.age_s, self._inbox.put, speed=self._clock.speed
        )

    def _heed(self, about: About) -> None:
        """The scale's own word on what it can carry counts where it is less."""
        order = self._order
        if order is None or self._pour is not None or about.capacity_ug is None:
            return
        most = min(about.capacity_ug, order.terms.scale_most_ug or about.capacity_ug)
        if order.terms.size_ug > most:
            self._release()
            self._refuse(2, f"The size is above what this scale carries: {most / 1e6:g} g.")
            return
        self._order = replace(order, terms=replace(order.terms, scale_most_ug=most))

    def _take_safely(self, happened: Input) -> None:
        try:
            self._take(happened)
        except RecordError as error:
            self._notice, self._notice_until_s = str(error), self._clock.age_s() + 60
            self._show()

    def _take(self, happened: Input) -> None:
        order = self._order
        if order is None:
            return
        if self._pour is None:
            self._wait_for_scale(order, happened)
            if self._pour is None:
                return
        double = isinstance(happened, Key) and is_double_press(self._sight, happened)
        following = self._pour.stage == "pour" and self._pour.trouble is None
        self._sight = observe(self._sight, happened, following=following)
        decision = decide(self._pour, self._sight, happened, double)
        if decision.refusal:
            self._notice, self._notice_until_s = decision.refusal, happened.at_s + 4
        self._write(decision.facts)
        if self._pour.stage in ("live", "ended"):
            self._finish()
        elif self._given_up(happened):
            self._take(Cut(happened.at_s, "scale-lost"))
            return
        if decision.facts or not isinstance(happened, Tick) or self._restless():
            self._show()

    def _restless(self) -> bool:
        """Whether the picture changes by time alone: a countdown, a hold, a notice."""
        pour = self._pour
        if pour is None:
            return False
        counting = pour.stage == "stir" or pour.terms.hands_free
        return counting or pour.trouble is not None or bool(self._notice)

    def _wait_for_scale(self, order: Order, happened: Input) -> None:
        if isinstance(happened, Weighed):
            opened = Opened(round(happened.at_s * 1000), order.terms, order.about)
            assert self._journal is not None
            self._batch = self._journal.open_batch(self._entry(opened))
            self._pour = begin(opened)
        elif isinstance(happened, Cut) or (isinstance(happened, Key) and happened.word == "drop"):
            self._release()
            self._refuse(1, "Nothing was begun.")
        elif happened.at_s - self._asked_s > FIRST_READING_S * max(1, self._clock.speed / 5):
            fault = self._sight.fault
            said = f" It sent: {fault.say}" if fault else " It sent nothing."
            self._release()
            self._refuse(3, f"No weight came from {order.port} within 5 s.{said}")
        elif isinstance(happened, Failed):
            self._sight = replace(self._sight, fault=happened.fault)

    def _given_up(self, happened: Input) -> bool:
        trouble = self._pour.trouble if self._pour else None
        if trouble is None or self._give_up_s is None:
            return False
        lost = trouble.reason in ("silent", "link", "nonsense")
        return lost and happened.at_s - trouble.at_ms / 1000 > self._give_up_s

    def _write(self, facts: tuple[Fact, ...]) -> None:
        assert self._journal is not None
        assert self._pour is not None
        if not facts:
            return
        self._journal.append([self._entry(fact) for fact in facts])
        for fact in facts:
            self._pour = evolve(self._pour, fact)

    def _entry(self, fact: Fact) -> Entry:
        return Entry(
            kind=fact.kind,
            data=to_plain(fact),
            at_ms=fact.at_ms,
            boot=self._clock.boot,
            utc=self._clock.utc(),
            batch=self._batch,
            station=STATION,
        )

    def _finish(self) -> None:
        assert self._pour is not None
        result = self._pour.result
        assert result is not None
        self._look_at_live_cups()
        good = self._pour.stage == "live" and result.verdict == "in-band"
        lost = getattr(result, "how", "") == "scale-lost"
        self._show()
        self._release()
        self._exit = 0 if good else 3 if lost else 1

    def _close(self, wish: _Close) -> None:
        from mixer.app.paperwork import close_cup

        try:
            said = close_cup(self._record, wish.cup, wish.how, wish.left)
            self._look_at_live_cups()
        except ValueError as error:
            said = str(error)
        self._notice, self._notice_until_s = said, self._clock.age_s() + 4
        self._show()

    def _look_at_live_cups(self) -> None:
        assert self._journal is not None
        self._live = live_cups(self._journal.entries(having="live", lacking=["closed"]))

    def _release(self) -> None:
        scale, self._scale = self._scale, None
        simulation, self._simulation = self._simulation, None
        self._order = None
        if scale is not None:
            scale.close()
        if simulation is not None:
            simulation.close()

    def _refuse(self, status: int, sentence: str) -> None:
        self._publish(Picture(stage="ready", say=sentence, outcome="refused"))
        self._exit = status

    # -- the picture ---------------------------------------------------------------

    def _show(self) -> None:
        now = self._clock.age_s()
        cups = paint.live_cups(self._live, now, self._clock.boot, self._clock.utc())
        scale = self._scale_view(now)
        if self._pour is None:
            say = self._notice if now < self._notice_until_s else self._picture.say
            self._publish(replace(self._picture, say=say, live_cups=cups, scale=scale))
            return
        self._coach, advice = advise(self._pour, self._sight, self._coach, now)
        if now < self._notice_until_s:
            advice = replace(advice, say=self._notice)
        else:
            self._notice = ""
        picture = paint.picture(self._pour, self._sight, advice, self._batch, now)
        if self._order is not None:
            picture = paint.titled(picture, self._order)
        else:
            picture = replace(
                picture,
                resin_system=self._picture.resin_system,
                resin_source=self._picture.resin_source,
                simulated=self._picture.simulated,
            )
        self._publish(replace(picture, live_cups=cups, scale=scale))
        if self._simulation is not None:
            self._simulation.show(self._picture)

    def _scale_view(self, now_s: float) -> ScaleView:
        last, fault = self._sight.last, self._sight.fault
        state = health(last.at_s if last else None, now_s, link_failed=fault is not None)
        say = fault.say if fault else "" if state is Health.FRESH else "no reading"
        return ScaleView(str(state), last.text if last else "", say)

    def _publish(self, picture: Picture) -> None:
        with self._changed:
            self._picture = replace(
                picture, serial=self._picture.serial + 1, t_s=self._clock.age_s()
            )
            self._changed.notify_all()


