"""A scale on a real pseudo-terminal onto which a cup is put, and resin poured.

Each weight is written down with the moment just before its last byte is sent; sender
and window are on one machine, so that their clocks agree. It knows nothing of the
program's own dialect (see `support.peers`), nor of what the program makes of it.
"""

from __future__ import annotations

import time

from tests.support.peers import PtyPeer, weigh

EMPTY_S, CUP_S = 1.5, 4.0  # the empty pan, then the cup, each at rest
CUP_G = 7.0
FLOW_G_S = 2.0


class Poured:
    """Answers ``W`` with a new weight every ``period_s``, no sooner; refuses the rest."""

    def __init__(self, rate_hz: float) -> None:
        self.period_s = 1 / rate_hz
        self.asked_ns: list[int] = []
        self.said: list[tuple[int, str]] = []  # monotonic ns, the figure; while pouring only
        self.resting = False  # set by the benchmark: nothing is poured for a while
        self._due_s = 0.0
        self._count = 0
        self._poured = 0
        self._peer = PtyPeer(self._answer)
        self.path = self._peer.path

    @property
    def pouring(self) -> bool:
        return self._poured > 0

    def close(self) -> None:
        self._peer.unplug()

    def _answer(self, command: bytes) -> bytes:
        if command != b"\nW\r":
            return b"\n?\r"
        now_s = time.monotonic()
        self.asked_ns.append(time.monotonic_ns())
        if now_s < self._due_s:
            time.sleep(self._due_s - now_s)
        # From when it was due: a late answer must not make all the later ones late.
        self._due_s = max(self._due_s, now_s - self.period_s) + self.period_s
        self._count += 1
        at_s = self._count * self.period_s
        if at_s < EMPTY_S + CUP_S:
            return weigh(f"{CUP_G if at_s > EMPTY_S else 0.0:.1f}")
        if not self.resting:
            self._poured += 1
        grams = CUP_G + self._poured * self.period_s * FLOW_G_S
        frame = weigh(f"{grams:.1f}")
        if not self.resting:
            frame = frame.replace(b"1G ", b"1GM", 1)  # in motion
            self.said.append((time.monotonic_ns(), f"{grams:.1f} g"))
        return frame
