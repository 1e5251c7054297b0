"""The only clock: an age that runs on while the computer sleeps, and UTC.

Time enters the rest of the program as data. A faster clock serves the simulated
bench alone and marks its boot, so that no simulated age passes for a real one.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from mixer.record.views import Moment

_BOOTTIME = getattr(time, "CLOCK_BOOTTIME", None)


def _age_s() -> float:
    if _BOOTTIME is None:  # where the system has none, monotonic is the nearest
        return time.monotonic()
    return time.clock_gettime(_BOOTTIME)


def _boot() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        import uuid  # seldom needed, and slow to load before the window stands

        return f"unknown-{uuid.uuid4()}"


class Clock:
    """Seconds since boot, UTC and the boot's identity, ``speed`` times as fast."""

    def __init__(self, speed: float = 1.0) -> None:
        if not 0 < speed < float("inf"):
            raise ValueError(f"a clock speed of {speed} is not a number above 0")
        self.speed = speed
        self._start_s = _age_s()
        self._start_utc = datetime.now(UTC)
        # A faster clock runs ahead of the next one's beginning: each is a boot of its own.
        self.boot = _boot() if speed == 1 else f"simulated-{_boot()}-{self._start_s:.3f}"

    def age_s(self) -> float:
        """Seconds since boot, sleep included; faster than real by ``speed``."""
        return self._start_s + (_age_s() - self._start_s) * self.speed

    def utc(self) -> str:
        """ISO 8601 with milliseconds and ``Z``. At real speed, the system's own."""
        if self.speed == 1:
            now = datetime.now(UTC)
        else:
            now = self._start_utc + timedelta(seconds=self.age_s() - self._start_s)
        return now.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def now(self) -> Moment:
        """All three."""
        return Moment(self.utc(), round(self.age_s() * 1000), self.boot)
