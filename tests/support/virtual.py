"""A whole bench in virtual time: the plant, a person, and readings for the pour.

It goes no faster or slower with the machine, and the same seed gives the same pour.
The caller plays the program: take a reading, decide, show the cue. A scale that is asked
(``asked_every_s``) says what it shows until it shows something else. ::

    bench = VirtualBench(CAREFUL, warm=True, seed=7)
    for said in bench.readings(limit_s=120):
        ...                                     # Reading or Fault, at_s is bench time
        bench.show("pour", "resin", left_g)     # the newest cue is what the person sees
        if bench.take_presses():                # the key for going on (keys=True)
            ...
    bench.in_cup_g("resin")                     # the truth

A scale that is silent yields nothing, so ``at_s`` jumps, as with a real one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from devices.readings import UG_PER_UNIT, Fault, FaultKind, Reading
from devices.sim.indicator import Display, ScaleSettings
from devices.sim.plant import Plant
from devices.sim.stream import Jug
from mixer.practice.hands import CAREFUL, Action, Hand, Person

STEP_S = 0.01  # the person looks, and the plant moves on, a hundred times a second
TICK_STEPS = 10  # the bench thread looks at the clock ten times a second (mixer.app.bench.shop)


class VirtualBench:
    """Plant and person together; the settings are those of the two."""

    def __init__(
        self,
        hand: Hand = CAREFUL,
        *,
        warm: bool = True,
        guided: bool = True,
        keys: bool = False,
        waits_for_drips: bool = True,
        seed: int = 1,
        cup_mass_g: float = 12.0,
        jugs: Sequence[str] = ("resin", "hardener"),
        scale: ScaleSettings | None = None,
        asked_every_s: float | None = None,
    ) -> None:
        described = [Jug.read(hand.jug(name, warm)) for name in jugs]
        self.plant = Plant(described, scale, seed)
        self.person = Person(
            hand, seed, cup_mass_g, guided, warm=warm, keys=keys, waits_for_drips=waits_for_drips
        )
        self.doings: list[tuple[float, Action]] = []  # all that the person did, and when
        self._shown: tuple[str, str, float | None] = ("wait", "", None)
        self._presses = 0
        self._steps = 0
        self._asked_steps = None if asked_every_s is None else round(asked_every_s / STEP_S)
        self._newest: Reading | Fault | None = None

    @property
    def t_s(self) -> float:
        """Bench time in seconds."""
        return self._steps * STEP_S

    def show(self, cue: str, component: str = "", left_g: float | None = None) -> None:
        """Show the person a cue, which jug it is about, and the figure left to pour."""
        self._shown = (cue, component, left_g)

    def act(self, action: Action) -> None:
        """Do this at the bench; of lifting the cup and putting it back only what another hand has
        not done already."""
        on_pan = {"lift": True, "return": False}.get(str(action["do"]))
        if on_pan is None or self.plant.truth()["on_pan"] == on_pan:
            self.plant.act(action)

    def take_presses(self) -> int:
        """How often the person pressed the key for going on since last asked."""
        presses, self._presses = self._presses, 0
        return presses

    def readings(self, limit_s: float = 600.0) -> Iterator[Reading | Fault]:
        """What the scale says, each as it comes, until ``limit_s`` seconds from now."""
        return (said for said in self.moments(limit_s) if said is not None)

    def moments(self, limit_s: float = 600.0) -> Iterator[Reading | Fault | None]:
        """What the scale says, and ``None`` where the program looks at the clock."""
        plant, asked = self.plant, self._asked_steps
        until = self._steps + round(limit_s / STEP_S)
        while self._steps < until:
            self._steps += 1
            for display in plant.step(STEP_S):
                self._newest = said_by(display, plant.failure)
                if self._newest and asked is None:
                    yield self._newest
            if asked and self._newest and self._steps % asked == 0:
                yield replace(self._newest, at_s=self.t_s)
            if self._steps % TICK_STEPS == 0:
                yield None
            for action in self.person.step(self._steps * STEP_S, *self._shown):
                self.doings.append((self.t_s, action))
                if action == {"do": "press", "key": "go"}:
                    self._presses += 1
                else:
                    self.act(action)

    def run(self, for_s: float) -> None:
        """Let time pass under the cue that is shown, heedless of readings."""
        for _ in self.readings(for_s):
            pass

    def in_cup_g(self, jug: str) -> float:
        """What is really in the cup of this component, in grams."""
        truth = self.plant.truth()["truth"]
        assert isinstance(truth, dict)
        return float(truth[jug])


def said_by(display: Display, failure: str = "") -> Reading | Fault | None:
    """One display as what a dialect makes of it; None where the scale is silent."""
    text = f"{display.figure} {display.unit}"
    if failure in ("silent", "restart"):
        return None
    if failure == "nonsense":
        return Fault(FaultKind.NONSENSE, "~#1 5%", "The scale sent nonsense.", display.at_s)
    if display.over or failure == "overload":
        return Fault(FaultKind.OVERLOAD, text, "The scale shows overload.", display.at_s)
    if display.under:
        return Fault(FaultKind.UNDERLOAD, text, "The scale shows underload.", display.at_s)
    unit_ug = UG_PER_UNIT[display.unit]
    division_ug = round(unit_ug * round(display.division * 1_000_000) / 1_000_000)
    return Reading(
        mass_ug=round(unit_ug * display.count * round(display.division * 1_000_000) / 1_000_000),
        text=text,
        unit=display.unit,
        division_ug=division_ug,
        still=display.still,
        scale_tared=display.tared,
        at_s=display.at_s,
        weighing_range=display.weighing_range,
    )
