"""How long the scale of one batch has not been heard, and what is said of it.

Decides nothing about a weight; a batch that is on waits, gives up, or never begins by it.
"""

from __future__ import annotations

from devices.readings import Fault, FaultKind
from mixer.app.clock import Clock
from mixer.app.resolve import Order
from mixer.pour.inputs import Failed, Input, Weighed
from mixer.pour.sight import SILENT_AFTER_S, Sight

#: For the first weight. Real seconds, however fast the clock: a simulated bench, which
#: alone has a faster one, is a process that takes as long to start as it takes.
FIRST_READING_S = 5.0
#: Time goes by ten times a second. Where so much (real seconds) went by at once the computer
#: slept, and nobody listened meanwhile (our choice).
SLEPT_S = 5.0

#: Faults that come from a scale that is there and weighs, if not this.
_THERE = (FaultKind.OVERLOAD, FaultKind.UNDERLOAD, FaultKind.SCALE_ERROR)


class Hearing:
    """``give_up_s`` is how long a scale that has gone is waited for (``None``: for ever), as
    long as the computer is awake."""

    def __init__(self, clock: Clock, give_up_s: float | None) -> None:
        self._speed, self._give_up_s = clock.speed, give_up_s
        self._asked_s = self._heard_s = self._awake_s = clock.age_s()

    def take(self, happened: Input) -> None:
        """Whatever happens at the bench."""
        slept_s = happened.at_s - self._awake_s
        self._awake_s = max(self._awake_s, happened.at_s)
        if slept_s > SLEPT_S * self._speed:
            self._asked_s += slept_s
            self._heard_s += slept_s
        if isinstance(happened, Weighed) or (
            isinstance(happened, Failed) and happened.fault.kind in _THERE
        ):
            self._heard_s = happened.at_s

    def missing(self, sight: Sight, now_s: float) -> Fault | str | None:
        """Why there is no weight at this moment, or ``None``."""
        fault = sight.fault_now(now_s)
        if fault is not None:
            return fault
        if sight.last is not None:
            return "silent" if sight.silent(now_s) else None
        return "silent" if self._waited_s(now_s) > SILENT_AFTER_S else None

    def is_lost(self, now_s: float) -> bool:
        """Whether the scale has been away for longer than it is waited for."""
        return self._give_up_s is not None and now_s - self._heard_s > self._give_up_s

    def is_overdue(self, now_s: float) -> bool:
        """Whether a first weight is no longer waited for."""
        return self._waited_s(now_s) > FIRST_READING_S

    def _waited_s(self, now_s: float) -> float:
        return (now_s - self._asked_s) / self._speed


def no_weight(order: Order, sight: Sight) -> str:
    """That a first weight did not come, and what the scale was asked for."""
    fault, scale = sight.fault, order.scale
    line = f"{scale.baud} {scale.bytesize}{scale.parity}{scale.stopbits:g}"
    sent = fault.say if fault else "It sent nothing: is the scale on, and set so?"
    return (
        f"No weight came from {order.port} within {FIRST_READING_S:g} s, "
        f"asked with {scale.ask} at {line}. {sent}"
    )
