"""Dialects: the ways in which scales talk. Bytes in, values out, nothing else.

A dialect does no input or output and knows no clock, so that a recorded line and a
live one are read by the same code, and so that its tests take microseconds. What
all dialects share is stated here; :mod:`devices.scale` relies on no more than this.
"""

from __future__ import annotations

from typing import Protocol

from devices.readings import Said


class Dialect(Protocol):
    """What a live scale needs of a dialect, whichever it is."""

    @property
    def repeats(self) -> bool:
        """True where the scale goes on by itself once it has been asked."""

    @property
    def patience_s(self) -> float:
        """How long silence is normal after asking; then it is asked again."""

    def ask(self) -> bytes:
        """What to send to get a weight; ``b""`` where the scale needs no asking."""

    def ask_about(self) -> bytes:
        """What to send to learn of the scale itself; ``b""`` where it cannot say."""

    def follow_up(self) -> bytes:
        """What must be sent now, after what was fed last; ``b""`` for nothing."""

    def restart(self) -> None:
        """The line was opened anew: forget what was held of the old one."""

    def feed(self, data: bytes) -> list[Said]:
        """Read bytes as they come, in any portions; never raises."""
