"""Small scales at the far end of a line, written without the program's own dialect.

They speak SMA SCP-0499 from its published columns: LF, status, range, gross or net,
motion, reserved, ten of weight, three of unit, CR.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import threading
import time
import tty
from collections.abc import Callable
from dataclasses import dataclass, field

Answer = Callable[[bytes], bytes]


def weigh(figure: str = "56.1", unit: str = "g") -> bytes:
    return f"\n 1G  {figure:>10}{unit:<3}\r".encode()


def plain_scale(command: bytes) -> bytes:
    """A scale of level 1: it knows W, and refuses the rest."""
    return weigh() if command == b"\nW\r" else b"\n?\r"


def teller() -> Answer:
    """A scale of level 2 that also tells of itself, a line for each N."""
    lines: list[bytes] = []

    def answer(command: bytes) -> bytes:
        if command == b"\nI\r":
            lines[:] = [b"\nTYP:S\r", b"\nCAP:g  :500:1:1\r", b"\nCMD:WPRTCIN\r", b"\nEND:\r"]
            return b"\nSMA:2/1.0\r"
        return lines.pop(0) if command == b"\nN\r" and lines else plain_scale(command)

    return answer


@dataclass
class Peer:
    """Answers on one file descriptor until it is unplugged. ``say`` sends unasked."""

    handle: int
    answer: Answer
    heard: list[bytes] = field(default_factory=list)
    bytewise_s: float = 0.0
    said: Callable[[], None] = lambda: None  # called after each answer

    def __post_init__(self) -> None:
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def say(self, data: bytes) -> None:
        if not self.bytewise_s:
            os.write(self.handle, data)
            return
        for at in range(len(data)):
            os.write(self.handle, data[at : at + 1])
            time.sleep(self.bytewise_s)

    def _run(self) -> None:
        held = b""
        while not self._stop.is_set():
            ready, _, _ = select.select([self.handle], [], [], 0.02)
            if not ready:
                continue
            try:
                held += os.read(self.handle, 1000)
            except OSError:  # nobody has opened the other end just now
                time.sleep(0.005)
                continue
            while b"\r" in held:
                command, _, held = held.partition(b"\r")
                self.heard.append(command + b"\r")
                with contextlib.suppress(OSError):
                    self.say(self.answer(command + b"\r"))
                    self.said()

    def unplug(self) -> None:
        if not self._stop.is_set():
            self._stop.set()
            self._thread.join()
            os.close(self.handle)


class PtyPeer(Peer):
    """A scale on a real pseudo-terminal; ``path`` is what a program opens."""

    def __init__(self, answer: Answer = plain_scale, bytewise_s: float = 0.0) -> None:
        master, slave = os.openpty()
        tty.setraw(slave)  # else the terminal echoes what the scale says before it is opened
        self.path = os.ttyname(slave)
        self._slave = slave
        super().__init__(master, answer, bytewise_s=bytewise_s)

    def unplug(self) -> None:
        super().unplug()
        with contextlib.suppress(OSError):
            os.close(self._slave)


class TcpPeer:
    """A scale behind a TCP server on this computer; ``url`` is what a program opens."""

    def __init__(self, answer: Answer = plain_scale) -> None:
        self._server = socket.create_server(("127.0.0.1", 0))
        self.url = f"socket://127.0.0.1:{self._server.getsockname()[1]}"
        self._answer = answer
        self._peer: Peer | None = None
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            connection, _ = self._server.accept()
            self._peer = Peer(connection.detach(), self._answer)

    def unplug(self) -> None:
        # A listening socket is woken from accept() by a last visitor.
        if self._thread.is_alive():
            with contextlib.suppress(OSError):
                socket.create_connection(self._server.getsockname()).close()
        self._thread.join()
        self._server.close()
        if self._peer is not None:
            self._peer.unplug()


def wait_until(true: Callable[[], bool], within_s: float = 30.0) -> bool:
    """Wait for another thread, no longer than it takes."""
    until = time.monotonic() + within_s
    while time.monotonic() < until:
        if true():
            return True
        time.sleep(0.002)
    return true()
