"""The simulated bench behind ``--port sim:``: plant and person, in the place of a builder.

The person reads the cue off the newest picture and works the jugs; the plant runs in
a process of its own behind a real pseudo-terminal. The keys stay with the user.
"""

from __future__ import annotations

import contextlib
import threading
import time

from devices.sim.process import SimulatedBench
from mixer.app.picture import Picture
from mixer.app.resolve import Order
from mixer.practice.hands import CAREFUL, Person

LOOK_S = 0.05


class Simulation:
    """A plant and a careful person. ``speed`` is that of the program's clock."""

    def __init__(self, order: Order, speed: float = 1.0, seed: int = 1) -> None:
        jugs = [CAREFUL.jug(c.name) for c in order.terms.recipe.components]
        self._bench = SimulatedBench(speed=speed, seed=seed, jugs=jugs)
        self.url = self._bench.url
        self._person = Person(CAREFUL, seed, 12.0)
        self._speed = speed
        self._picture = Picture(cue="wait")
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._act, name="person", daemon=True)
        self._thread.start()

    def show(self, picture: Picture) -> None:
        """What the person sees from now on."""
        self._picture = picture

    def close(self) -> None:
        """End plant and person."""
        self._closing.set()
        self._thread.join(timeout=2.0)
        self._bench.close()

    def _act(self) -> None:
        began = time.monotonic()
        while not self._closing.wait(LOOK_S / self._speed):
            seen = self._picture
            left = None
            if seen.target_ug is not None and seen.net_ug is not None:
                left = (seen.target_ug - seen.net_ug) / 1e6
            t_s = (time.monotonic() - began) * self._speed
            for action in self._person.step(t_s, seen.cue, seen.component or "", left):
                with contextlib.suppress(ConnectionError):
                    self._bench.act(action)
