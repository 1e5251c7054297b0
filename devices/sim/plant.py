"""The bench as matter: jugs, what is in the air, the cup, the pan, the scale's figure.

Pure: no input or output and no clock; ``step(dt)`` moves it on, ``act(action)`` is a
hand's doing, and the same seed with the same doings gives the same bench. It keeps the
truth, gram by gram, that no scale shows. Mass is never lost: what left the jugs is in
a cup, in the air, spilled or taken out, and a test holds it to that.

Time goes in ticks of ``TICK_S`` however it is stepped, so that the size of the steps
changes nothing. Everything of first order is exact from tick to tick; what is rounded
to a tick is when a hand's doing takes effect and when falling mass lands. The push of
a falling stream on the cup is not modelled: mass weighs once it has landed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence

from devices.sim.indicator import Display, Indicator, ScaleSettings
from devices.sim.stream import Jug, Stream, number

TICK_S = 0.005
JUGS = (Jug("resin"), Jug("hardener"))
FAILURES = ("silent", "nonsense", "overload", "restart")


class Plant:
    """A bench. Time in seconds since it began, masses in grams.

    >>> bench = Plant(scale=ScaleSettings(repeatability_g=0.0))
    >>> bench.act({"do": "cup", "mass_g": 12.0})
    >>> bench.step(3.0)[-1].figure
    '12.0'
    """

    def __init__(
        self,
        jugs: Sequence[Jug] = JUGS,
        scale: ScaleSettings | None = None,
        seed: int = 1,
        tick_s: float = TICK_S,
    ) -> None:
        self.tick_s = tick_s
        self.scale = Indicator(scale or ScaleSettings(), seed, tick_s)
        self._streams = {jug.name: Stream(jug, seed, tick_s) for jug in jugs}
        if len(self._streams) < len(jugs) or not jugs:
            raise ValueError("a bench needs jugs, and each its own name")
        falls = {jug.name: round(jug.fall_s / tick_s) for jug in jugs}
        self._air: dict[str, deque[tuple[int, float]]] = {jug.name: deque() for jug in jugs}
        # All that a tick needs of each jug, and whether anything moves: looked up once, for a
        # second of a pour has two hundred ticks.
        self._ways = [(n, s, self._air[n], falls[n]) for n, s in self._streams.items()]
        self._resting = True
        self._time_s = 0.0
        self._tick = 0
        self._shown = 0  # readings so far
        self._load_g = 0.0
        self._pan: float | None = None  # the empty cup's mass; None: no cup on the pan
        self._lifted: float | None = None
        self._in_cup: dict[str, float] = dict.fromkeys(self._streams, 0.0)
        self._added: dict[str, float] = dict.fromkeys(self._streams, 0.0)
        # Removed, or gone with an earlier cup.
        self._taken: dict[str, float] = dict.fromkeys(self._streams, 0.0)
        self._spilled_g = 0.0
        self._failure = ""
        self._failing_until = 0
        self._next_reading = self._reading_tick()
        self.display = self.scale.read(0.0)

    # --- time ------------------------------------------------------------------

    @property
    def t_s(self) -> float:
        """Seconds since the bench began."""
        return self._time_s

    @property
    def next_reading_s(self) -> float:
        """When the display is due to change next."""
        return self._next_reading * self.tick_s

    def step(self, dt_s: float) -> list[Display]:
        """Move on by ``dt_s`` seconds; what the display showed meanwhile, in order."""
        if number(dt_s, "dt_s") < 0:
            raise ValueError(f"time does not run back, but dt_s is {dt_s}")
        self._time_s += dt_s
        goal = int(self._time_s / self.tick_s + 1e-6)
        shown: list[Display] = []
        while self._tick < goal:
            ticks = 1
            if self._resting:  # nothing moves: go straight to the next reading
                ticks = max(1, min(goal, self._next_reading) - self._tick)
            else:
                self._pour()
            self.scale.feed(self._load_g, ticks)
            self._tick += ticks
            if self._failure:
                self._recover()
            if self._tick >= self._next_reading:
                self.display = self.scale.read(self._next_reading * self.tick_s)
                shown.append(self.display)
                self._shown += 1
                self._next_reading = self._reading_tick()
        return shown

    def show_again(self) -> Display:
        """The display at once after a key, not only with the next reading."""
        self.display = self.scale.show(self._time_s)
        return self.display

    def _reading_tick(self) -> int:
        return round((self._shown + 1) / self.scale.settings.readings_per_s / self.tick_s)

    def _pour(self) -> None:
        """One tick: what leaves the lips, and what lands."""
        tick = self._tick
        now_s = tick * self.tick_s
        landed, resting = False, True
        for name, stream, air, fall in self._ways:
            if not (idle := stream.idle):
                if mass_g := stream.tick(now_s):
                    air.append((tick + fall, mass_g))
                idle = stream.idle
            while air and air[0][0] <= tick:
                landed, landed_g = True, air.popleft()[1]
                if self._pan is None:
                    self._spilled_g += landed_g
                else:
                    self._in_cup[name] += landed_g
            resting = resting and idle and not air
        if landed or resting:
            self._look()

    def _look(self) -> None:
        """What has become of the load, and whether anything moves still."""
        self._load_g = 0.0 if self._pan is None else self._pan + sum(self._in_cup.values())
        self._resting = True
        for _, stream, air, _ in self._ways:
            if air or not stream.idle:
                self._resting = False

    def _recover(self) -> None:
        if self._tick >= self._failing_until:
            if self._failure == "restart":
                # A cheap scale takes whatever it wakes up under for zero.
                self.scale.wake(self._load_g)
            self._failure = ""

    # --- what is so ------------------------------------------------------------

    @property
    def failure(self) -> str:
        """How the scale fails just now: one of ``FAILURES``, or nothing."""
        return self._failure

    @property
    def left_the_jugs_g(self) -> float:
        """All that ever left the jugs, by stream, drip or lump."""
        return sum(s.left_g for s in self._streams.values()) + sum(self._added.values())

    @property
    def taken_g(self) -> float:
        """All that was taken out of the cup, or went away with an earlier one."""
        return sum(self._taken.values())

    def truth(self) -> dict[str, object]:
        """What no scale shows: grams of each component in the cup, and the rest."""
        return {
            "truth": dict(self._in_cup),
            "cup_g": self._pan if self._pan is not None else self._lifted,
            "on_pan": self._pan is not None,
            "spilled_g": self._spilled_g,
            "in_air_g": sum(mass for air in self._air.values() for _, mass in air) + 0.0,
            "t_s": self._time_s,
        }

    # --- what a hand does ------------------------------------------------------

    def act(self, action: Mapping[str, object]) -> None:
        """Do one thing, given as JSON would give it; ValueError with a sentence if wrong.

        ``{"do": "cup", "mass_g": 12}`` an empty cup onto the pan, ``lift`` and
        ``return`` it; ``{"do": "pour", "jug": "resin", "rate_g_s": 3}``, zero to close;
        ``{"do": "add", "jug": "resin", "mass_g": 2}`` at once and without a fall;
        ``{"do": "remove", "mass_g": 2}`` of the mixture;
        ``{"do": "press", "key": "zero"}`` (or ``tare``, ``unit``);
        ``{"do": "fail", "how": "silent", "for_s": 5}`` (or another of ``FAILURES``).

        >>> Plant().act({"do": "lift"})
        Traceback (most recent call last):
        ValueError: there is no cup on the pan
        """
        doings: dict[str, tuple[Callable[..., None], tuple[str, ...]]] = {
            "cup": (self._place, ("mass_g",)),
            "lift": (self._lift, ()),
            "return": (self._return, ()),
            "pour": (self._hold_jug, ("jug", "rate_g_s")),
            "add": (self._add, ("jug", "mass_g")),
            "remove": (self._remove, ("mass_g",)),
            "press": (self._press, ("key",)),
            "fail": (self._fail, ("how", "for_s")),
        }
        wish = action.get("do") if isinstance(action, Mapping) else None
        if not isinstance(wish, str) or wish not in doings:
            raise ValueError(f"{action!r} is nothing to do here; known are {', '.join(doings)}")
        doing, names = doings[wish]
        if set(action) != {"do", *names}:
            needs = " and ".join(names) or "nothing more"
            raise ValueError(f"“{wish}” needs {needs}, but got {dict(action)!r}")
        doing(*(action[name] for name in names))
        self._look()

    def _place(self, mass: object) -> None:
        mass_g = _mass(mass)
        if self._pan is not None:
            raise ValueError("there is a cup on the pan already")
        for name, there_g in self._in_cup.items():
            self._taken[name] += there_g
            self._in_cup[name] = 0.0
        self._pan, self._lifted = mass_g, None

    def _lift(self) -> None:
        if self._pan is None:
            raise ValueError("there is no cup on the pan")
        self._pan, self._lifted = None, self._pan

    def _return(self) -> None:
        if self._lifted is None:
            raise ValueError("there is no lifted cup to return")
        self._pan, self._lifted = self._lifted, None

    def _hold_jug(self, jug: object, rate: object) -> None:
        rate_g_s = number(rate, "rate_g_s")
        if rate_g_s < 0:
            raise ValueError(f"rate_g_s is {rate_g_s}; a stream does not run back")
        self._stream(jug).hold_at(rate_g_s, self._tick * self.tick_s)

    def _add(self, jug: object, mass: object) -> None:
        name, mass_g = self._stream(jug).jug.name, _mass(mass)
        if self._pan is None:
            raise ValueError("there is no cup on the pan to add to")
        self._in_cup[name] += mass_g
        self._added[name] += mass_g

    def _remove(self, mass: object) -> None:
        mass_g, there_g = _mass(mass), sum(self._in_cup.values())
        if self._pan is None:
            raise ValueError("there is no cup on the pan to take from")
        if mass_g > there_g:
            raise ValueError(f"there are only {there_g:.2f} g in the cup, not {mass_g:.2f} g")
        for name in self._in_cup:
            part_g = self._in_cup[name] * mass_g / there_g
            self._in_cup[name] -= part_g
            self._taken[name] += part_g

    def _press(self, key: object) -> None:
        keys = {"zero": self.scale.zero, "tare": self.scale.tare, "unit": self.scale.next_unit}
        if not isinstance(key, str) or key not in keys:
            raise ValueError(f"the scale has no key {key!r}; it has {', '.join(keys)}")
        if self._failure == "restart":
            return  # it is off: the key does nothing
        keys[key]()
        self.show_again()

    def _fail(self, how: object, for_s: object) -> None:
        if how not in FAILURES:
            raise ValueError(f"a scale does not fail by {how!r}; known are {', '.join(FAILURES)}")
        if (lasting_s := number(for_s, "for_s")) <= 0:
            raise ValueError(f"for_s is {lasting_s}; it must be above zero")
        self._failure = str(how)
        self._failing_until = self._tick + max(1, round(lasting_s / self.tick_s))

    def _stream(self, jug: object) -> Stream:
        if not isinstance(jug, str) or jug not in self._streams:
            raise ValueError(f"there is no jug {jug!r}; there are {', '.join(self._streams)}")
        return self._streams[jug]


def _mass(mass: object) -> float:
    mass_g = number(mass, "mass_g")
    if mass_g <= 0:
        raise ValueError(f"mass_g is {mass_g}; it must be above zero")
    return mass_g
