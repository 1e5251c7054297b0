"""When a weight is at rest, and for how long it has stood.

Pure. A weight is at rest when the scale calls it still and at least four whole readings,
over at least 0.6 s, lie within one division. It is the middle one of those that lie so, of
the last 1.5 s, or of the last four of a scale so slow that they take longer: never what a
single frame says.
"""

from __future__ import annotations

from dataclasses import dataclass

from devices.readings import Reading

REST_SPAN_S = 0.6
REST_COUNT = 4
REST_MEMORY_S = 1.5
SLOW_MEMORY_S = 2.4  # until there are so many: two readings a second, one of them late
SURE_REST_S = 1.6  # a stream that begins softly rests for a second (filters of 0.6 s, simulated)


@dataclass(frozen=True, slots=True)
class Rest:
    """A weight at rest: displayed mass, the scale's own text, from when to when; ``frame``
    is the unit and whether it was counted from a tare of the scale's own. A rest may creep:
    ``stood_ug`` is the lowest and the highest of it since ``stood_s``, no more than a
    division apart; ``top_ug`` is the most that it was, last at ``top_s``."""

    mass_ug: int
    text: str
    since_s: float
    at_s: float
    frame: tuple[str, bool]
    stood_ug: tuple[int, int] = (0, 0)
    stood_s: float = 0.0
    top_ug: int = 0
    top_s: float = 0.0

    @property
    def stands(self) -> bool:
        """Whether it has lain within a division for long enough to be no creeping stream."""
        return self.at_s - self.stood_s >= SURE_REST_S


def found(recent: tuple[Reading, ...]) -> Rest | None:
    """The rest that these readings end with, the newest being the last; ``None``: none."""
    newest = recent[-1]
    if not newest.still:
        return None
    window: list[Reading] = []
    low = high = newest.mass_ug
    for reading in reversed(recent):
        mass_ug = reading.mass_ug
        if mass_ug < low:
            low = mass_ug
        elif mass_ug > high:
            high = mass_ug
        memory_s = REST_MEMORY_S if len(window) >= REST_COUNT else SLOW_MEMORY_S
        if high - low > newest.division_ug or newest.at_s - reading.at_s > memory_s:
            break
        window.append(reading)
    if len(window) < REST_COUNT or newest.at_s - window[-1].at_s < REST_SPAN_S:
        return None
    masses = sorted([r.mass_ug for r in window])
    middle = masses[len(masses) // 2]
    text = next(r.text for r in window if r.mass_ug == middle)
    at_s = newest.at_s
    stood = (middle, middle), at_s - REST_SPAN_S
    since_s, frame = window[-1].at_s, frame_of(newest)
    return Rest(middle, text, since_s, at_s, frame, *stood, middle, at_s)


def frame_of(reading: Reading) -> tuple[str, bool]:
    """What two readings must have in common to be compared."""
    return reading.unit, reading.scale_tared


def added(rests: tuple[Rest, ...], rest: Rest | None, division_ug: int) -> tuple[Rest, ...]:
    """Prolong the newest rest if this is the same level, else begin another."""
    if rest is None:
        return rests
    last = rests[-1] if rests else None
    if last and last.frame == rest.frame and abs(last.mass_ug - rest.mass_ug) <= division_ug:
        low, high = min(last.stood_ug[0], rest.mass_ug), max(last.stood_ug[1], rest.mass_ug)
        stood = (low, high), last.stood_s
        if high - low > division_ug:
            stood = rest.stood_ug, rest.stood_s
        top = rest.top_ug, rest.top_s
        if last.top_ug > rest.top_ug:
            top = last.top_ug, last.top_s
        since_s = min(last.since_s, rest.since_s)
        rest = Rest(rest.mass_ug, rest.text, since_s, rest.at_s, rest.frame, *stood, *top)
        rests = rests[:-1]
    return (*rests[-3:], rest)
