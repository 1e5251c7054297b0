"""The simulated bench behind ``--port sim:``: a plant, and hands in the place of a builder's.

The plant runs in a process of its own behind a real pseudo-terminal. The hands are
those of a careful person, who reads the cue off the newest picture, or of a visitor.
The program's own keys stay with the user either way.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Iterator

from devices.sim.process import SimulatedBench
from mixer.app.bench.visitor import CUP_G, Visitor
from mixer.app.picture import Picture
from mixer.app.resolve import Order
from mixer.practice.hands import CAREFUL, Action, Person

LOOK_S = 0.05


class Simulation:
    """A plant and hands: the visitor's, else a careful person's.

    ``speed`` is that of the program's clock. The bench is a new one each time; ``left_ug``
    is what the cup weighs, with all that is in it, that was left standing on its pan.
    """

    def __init__(
        self,
        order: Order,
        speed: float = 1.0,
        seed: int = 1,
        visitor: Visitor | None = None,
        left_ug: int | None = None,
    ) -> None:
        jugs = [CAREFUL.jug(c.name) for c in order.terms.recipe.components]
        self._bench = SimulatedBench(speed=speed, seed=seed, jugs=jugs)
        self.url = self._bench.url
        self._person = Person(CAREFUL, seed, CUP_G)
        self._visitor = visitor
        self._speed = speed
        self._picture = Picture(cue="wait")
        self._closing = threading.Event()
        if visitor is not None:
            visitor.arrive(speed)
            visitor.see(self._picture)
        if left_ug is not None and left_ug > 0:
            self._bench.act({"do": "cup", "mass_g": left_ug / 1e6})
            self._person.has_put_cup()
            if visitor is not None:
                visitor.has_put_cup()
        doings = self._persons() if visitor is None else visitor.doings()
        self._thread = threading.Thread(target=self._act, args=[doings], name="hands", daemon=True)
        self._thread.start()

    def show(self, picture: Picture) -> None:
        """What the hands' owner sees from now on."""
        self._picture = picture
        if self._visitor is not None:
            self._visitor.see(picture)

    def close(self) -> None:
        """End hands and plant."""
        self._closing.set()
        if self._visitor is not None:
            self._visitor.leave()
        self._thread.join(timeout=2.0)
        self._bench.close()

    def _act(self, doings: Iterator[Action]) -> None:
        for doing in doings:
            with contextlib.suppress(ConnectionError):
                self._bench.act(doing)

    def _persons(self) -> Iterator[Action]:
        began = time.monotonic()
        while not self._closing.wait(LOOK_S / self._speed):
            seen = self._picture
            left = None
            if seen.target_ug is not None and seen.net_ug is not None:
                left = (seen.target_ug - seen.net_ug) / 1e6
            t_s = (time.monotonic() - began) * self._speed
            yield from self._person.step(t_s, seen.cue, seen.component or "", left)
