"""Serves the simulated bench: a real pseudo-terminal for the host, lines for the hand.

The edge of :mod:`devices.sim`: the only file there with a clock and ports. The plant
is stepped by the time that really passed, times the speed asked for; where this process
was not let run for long the bench stood still too, for no jug is to pour on through a
pause that a fast clock makes half a minute. It must end when its standard input closes,
so that no bench outlives whoever began it, and must never wait for a host that does not
read: what such a host leaves is lost, as on a real line.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import socket
import sys
import threading
import time
from collections import deque
from typing import TextIO

from devices.sim.plant import Plant
from devices.sim.scale import SmaScale

#: Longest sleep between two steps of the plant, in real seconds.
LONGEST_SLEEP_S = 0.05
#: The most real time for which the bench moves on at once (our choice).
LONGEST_STEP_S = 0.1


class PtyLine:
    """A pseudo-terminal; the host opens its other end by ``url`` like any serial port."""

    def __init__(self) -> None:
        import tty  # not on every system; who has none takes the TCP line

        self._master, self._slave = os.openpty()
        # The other end stays open here too: else the line breaks when the host closes it.
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.url = os.ttyname(self._slave)

    def waits_on(self) -> list[int]:
        return [self._master]

    def read(self, ready: list[int]) -> bytes:
        if self._master not in ready:
            return b""
        try:
            return os.read(self._master, 4096)
        except BlockingIOError:
            return b""

    def write(self, data: bytes) -> None:
        with contextlib.suppress(BlockingIOError):
            os.write(self._master, data)

    def close(self) -> None:
        os.close(self._master)
        os.close(self._slave)


class TcpLine:
    """A TCP port of this machine alone; one host at a time, the newest."""

    def __init__(self) -> None:
        self._door = socket.create_server(("127.0.0.1", 0))
        self._host: socket.socket | None = None
        self.url = f"socket://127.0.0.1:{self._door.getsockname()[1]}"

    def waits_on(self) -> list[int]:
        return [s.fileno() for s in (self._door, self._host) if s is not None]

    def read(self, ready: list[int]) -> bytes:
        if self._door.fileno() in ready:
            self._drop()
            self._host, _ = self._door.accept()
            self._host.setblocking(False)
            self._host.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        elif self._host is not None and self._host.fileno() in ready:
            try:
                data = self._host.recv(4096)
            except BlockingIOError:
                return b""
            except OSError:
                data = b""
            if not data:
                self._drop()
            return data
        return b""

    def write(self, data: bytes) -> None:
        if self._host is not None:
            try:
                self._host.send(data)
            except BlockingIOError:
                pass
            except OSError:
                self._drop()

    def close(self) -> None:
        self._drop()
        self._door.close()

    def _drop(self) -> None:
        if self._host is not None:
            self._host.close()
            self._host = None


class HandLines:
    """Lines of standard input, read in a thread that wakes the server for each.

    A thread, because not every system can wait for standard input and a port at once.
    """

    def __init__(self, source: TextIO) -> None:
        self.lines: deque[str | None] = deque()  # None: the input has closed
        self.bell, self._rope = socket.socketpair()
        self._source = source
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        for line in self._source:
            self._put(line)
        self._put(None)

    def _put(self, line: str | None) -> None:
        self.lines.append(line)
        with contextlib.suppress(OSError):
            self._rope.send(b".")


def open_line(tcp: bool) -> PtyLine | TcpLine:
    """A pseudo-terminal where the system has them, else a TCP port."""
    if not tcp and hasattr(os, "openpty"):
        return PtyLine()
    return TcpLine()


def answer(plant: Plant, line: str) -> dict[str, object]:
    """Do what one line of a hand's asks; the answer as JSON will give it.

    >>> answer(Plant(), '{"do": "cup", "mass_g": 12}'), answer(Plant(), "cup")
    ({'ok': True}, {'error': 'this line is no JSON object: cup'})
    """
    try:
        action = json.loads(line)
    except ValueError:
        action = None
    if not isinstance(action, dict):
        return {"error": f"this line is no JSON object: {line.strip()}"}
    if action == {"do": "truth"}:
        return plant.truth()
    try:
        plant.act(action)
    except ValueError as why:
        return {"error": str(why)}
    return {"ok": True}


def serve(plant: Plant, speed: float, line: PtyLine | TcpLine, source: TextIO) -> None:
    """Serve until ``source`` closes; ``speed`` bench seconds to a real one."""
    scale, hand = SmaScale(plant), HandLines(source)
    _say({"url": line.url})
    looked_s = time.monotonic()
    while True:
        until_reading_s = (plant.next_reading_s - plant.t_s) / speed
        sleep_s = max(0.0005, min(LONGEST_SLEEP_S, until_reading_s))
        ready, _, _ = select.select([*line.waits_on(), hand.bell.fileno()], [], [], sleep_s)
        before_s, looked_s = looked_s, time.monotonic()
        passed_s = min(LONGEST_STEP_S, looked_s - before_s)
        if sent := scale.due(plant.step(passed_s * speed)):
            line.write(sent)
        if hand.bell.fileno() in ready:
            hand.bell.recv(4096)
        while hand.lines:
            wish = hand.lines.popleft()
            if wish is None:
                return
            if wish.strip():
                _say(answer(plant, wish))
        if (asked := line.read(ready)) and (sent := scale.answer(asked)):
            line.write(sent)


def _say(what: dict[str, object]) -> None:
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()
