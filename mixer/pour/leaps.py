"""What comes upon the scale faster than any stream, and how sudden it was.

Pure, of readings alone. A leap is never what a single frame says, nor what a busy machine
makes of a fast stream by giving a reading its time too late: each end of it is shown twice,
and between two readings lies at least the usual time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import sqrt

from devices.readings import Reading
from mixer.pour.put_down import DELAY_PER_RISE, Rise, crossed_s

PUT_DOWN_UG_S = 18_000_000  # a cup put down arrives faster than any stream (12 g/s)
FASTEST_UG_S = 15_000_000  # more than any hand pours
GENTLE_MOST_UG_S = 3_000_000  # no hand pours so much when it pours gently (our choice)
JITTER_S = 0.2  # by which a busy machine may give a reading its time too late (our choice)
PUT_S = 0.8  # no display takes longer to show a thing at this rate (our choice)
COME_TO_STAY_S = 3.5  # what came at once, and is then still there (our choice)
KNOWN_S = COME_TO_STAY_S + 1.0  # how long a leap is remembered
USUAL_COUNT = 5  # readings that show how often a scale speaks
UNSURE_S = 0.03  # a straight line between two readings: when it rose so far
SUDDEN = 1.15  # times as long as the cup itself took: as sudden as that


@dataclass(frozen=True, slots=True)
class Leap:
    """What came at once: when it was first seen, from which weight, by how much, and until
    when it grew. ``laid``: no faster than a stream may be, but as suddenly as the cup, with
    nobody to pour; ``first``: so, with a jug that was called for and had brought nothing."""

    at_s: float
    from_ug: int
    gained_ug: int
    grew_until_s: float
    laid: bool = False
    first: bool = False

    @property
    def is_stream(self) -> bool:
        """What comes for so long was poured, however fast: a pump gives 25 g/s."""
        return not self.laid and self.grew_until_s - self.at_s > PUT_S

    @property
    def half_ug(self) -> int:
        """Half way up: what is less than this is gone again."""
        return self.from_ug + self.gained_ug // 2


def every_s(recent: tuple[Reading, ...]) -> float | None:
    """How often the scale speaks; ``None`` where that is not known yet."""
    if len(recent) < USUAL_COUNT:
        return None
    return (recent[-1].at_s - recent[0].at_s) / (len(recent) - 1)


def usual(recent: tuple[Reading, ...], renewed_s: float | None) -> float | None:
    """How often it says something new, upon a display that is renewed so often."""
    said_s = every_s(recent)
    return None if said_s is None else max(said_s, renewed_s or 0.0)


def leapt(
    before: Leap | None, recent: tuple[Reading, ...], least_ug: int, renewed_s: float | None
) -> Leap | None:
    """The leap that is known after these readings, the newest last: the one before until it is
    gone again or long past, or one that was just seen, of more than so much. ``renewed_s`` is how
    often the display is renewed, where that is known."""
    now_s = recent[-1].at_s
    if before is not None:
        upper_ug = max(reading.mass_ug for reading in recent[-2:])
        if upper_ug < before.half_ug or now_s - before.at_s > KNOWN_S:
            return None
    found = _greatest(recent, renewed_s)
    if found is None or found[1] <= least_ug or (before is not None and before.laid):
        return before
    low_ug, gained_ug = found
    if before is None:
        return Leap(now_s, low_ug, gained_ug, now_s)
    gained_ug = low_ug + gained_ug - before.from_ug
    if gained_ug <= before.gained_ug:
        return before
    return replace(before, gained_ug=gained_ug, grew_until_s=now_s)


def _greatest(recent: tuple[Reading, ...], renewed_s: float | None) -> tuple[int, int] | None:
    """From where, and by how much, the weight rose at most, faster than any stream."""
    if len(recent) < 4:
        return None
    usual_s = usual(recent, renewed_s)
    top = len(recent) - (2 if recent[-2].mass_ug <= recent[-1].mass_ug else 1)
    high_ug = recent[top].mass_ug
    best: tuple[int, int] | None = None
    flicker_ug = 2 * recent[top].division_ug  # of either end
    if high_ug - min([reading.mass_ug for reading in recent]) < flicker_ug:
        return None  # nothing has come: so it is with most readings
    for low in range(1, len(recent) - 2):
        low_ug = max(recent[low - 1].mass_ug, recent[low].mass_ug)
        gained_ug = high_ug - low_ug
        surely_ug = gained_ug - flicker_ug
        span_s = recent[top].at_s - recent[low].at_s
        if surely_ug < PUT_DOWN_UG_S * span_s:
            continue
        # What fell in just after the first of them and just before the last takes one more.
        new = sum(a.mass_ug != b.mass_ug for a, b in pairwise(recent[low : top + 1]))
        span_s = span_s + JITTER_S if usual_s is None else max(span_s, new * usual_s)
        span_s += usual_s or 0.0
        if surely_ug >= PUT_DOWN_UG_S * span_s and (best is None or gained_ug > best[1]):
            best = low_ug, gained_ug
    return best


def is_laid_in(way: Rise, rise_ug: int, display_s: float, every_s: float, *, is_due: bool) -> bool:
    """Whether a rise of so much, reading by reading, came as suddenly as a thing that is laid
    in, upon a display that is so late and speaks so often; where a stream ``is_due``, faster than
    a gentle one too."""
    how = _how_sudden(way, rise_ug, display_s, UNSURE_S + every_s)
    if how is None or not how.at_once:
        return False
    return not is_due or how.flow_ug_s > GENTLE_MOST_UG_S


@dataclass(frozen=True, slots=True)
class Sudden:
    """Of a rise from one rest to the next: whether it came about as suddenly as a thing that is
    put down, and how fast it was at the least."""

    at_once: bool
    flow_ug_s: float

    @property
    def no_stream(self) -> bool:
        """Whether it was surely faster than any stream."""
        return self.flow_ug_s > FASTEST_UG_S


def sudden(
    recent: tuple[Reading, ...], from_ug: int, rise_ug: int, display_s: float
) -> Sudden | None:
    """How sudden a rise of so much was, upon a display that is so late; ``None`` where it is
    not among these readings. The display's own rise is taken off as of two widths in a row."""
    way = tuple((r.at_s, r.mass_ug - from_ug) for r in recent)
    return _how_sudden(way, rise_ug, display_s, UNSURE_S)


def _how_sudden(way: Rise, rise_ug: int, display_s: float, unsure_s: float) -> Sudden | None:
    """``unsure_s`` is how much longer it may seem to take than it did."""
    low_s, high_s = (crossed_s(way, part * rise_ug) for part in (0.2, 0.8))
    if low_s is None or high_s is None:
        return None
    took_s, own_s = high_s - low_s, display_s / DELAY_PER_RISE
    rest_s = sqrt(max(0.0, (took_s + UNSURE_S) ** 2 - own_s**2))  # of the thing itself
    return Sudden(took_s <= SUDDEN * own_s + unsure_s, 0.6 * rise_ug / max(rest_s, 0.01))
