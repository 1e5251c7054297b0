"""What the last few readings have shown: the record, and what it is asked. Volatile.

Nothing here is durable and nothing here decides; losing it costs a second. Weights are
as displayed (the pour adds its own shift). How it comes about, reading by reading, is in
:mod:`mixer.pour.observe`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.counts_by import Counted
from mixer.pour.leaps import Leap, usual
from mixer.pour.put_down import Rise, delay_s
from mixer.pour.renewal import Renewal
from mixer.pour.rests import Rest, frame_of

SILENT_AFTER_S = 1.0  # a gap: at four readings a second, four in a row are missing
FAULT_STANDS_S = 2.0  # a scale that said why it shows no weight, and then nothing, is silent

FALL_UG = 1_000_000
#: From a cue to pour until the slowest display shows what was poured upon it: 0.7 s to react,
#: 0.3 s to open and to fall, 1.5 s of display (our choice: more than any display tried, 0.8 s).
UNSEEN_S = 2.5
DRIP_UG_S = 200_000  # 0.6 g in 8 s, thinning out; the slowest stream is 0.35 g/s
DROP_UG = 150_000  # a drop is about 0.05 g: no more than three at once (practice)


@dataclass(frozen=True, slots=True)
class Knock:
    """What came at once upon a cup that was followed: since when, and the weight half way up
    to it."""

    at_s: float
    half_ug: int


class Sight(NamedTuple):
    """What has been seen; made anew some five times a reading, which a tuple is sooner than a
    dataclass. ``all_rests`` are the last few distinct levels, the newest last;
    ``missed``: before the newest reading there was a gap, and nobody has noticed it yet;
    since the cup was last followed, at ``followed_s``, showing ``followed_ug`` and rising by
    ``flow_ug_s``, of late by ``slope_ug_s``, on a display that is ``late_s`` late as far as a
    cup that was put down told,
    ``back`` is the first whole reading, ``lowest_ug`` the least weight, and ``leapt_ug``
    the most by which it rose faster than any stream;
    ``told_to_pour_s``: when the builder was last shown a cue to pour, ``told_from_s``: since
    when, with no other cue between, ``telling``: whether it is shown now; ``rise``: how the
    cup's weight came, when it was put down; ``knock``: what came upon the pan faster than any
    stream, and may soon be gone again; ``zero_s``: what was shown before this tells nothing
    of an empty pan, for then the scale was not heard, or may have been zeroed; ``rose``:
    how it came up from less than nothing since the cup was last followed, by a cup or by a
    press of zero; ``leap``: what came at once upon a cup that is followed; ``way``: how its
    weight came since it rested last, as it did ``way_from``;
    ``stood``: the first rest at which, long after that, a cue said that there is enough;
    ``most_ug``: the most that was shown since the scale was last heard without a gap;
    ``sank_s``: when a reading was last less than the one before, by more than a flicker;
    ``fell_ug``: what one reading showed that may be of a scale which was zeroed since the one
    before; ``zeroed``: the next one did not take it back; ``counted``: by what step the
    scale counts; ``renewal``: how often its display is renewed."""

    recent: tuple[Reading, ...] = ()
    last: Reading | None = None
    fault: Fault | None = None
    since_s: float | None = None
    all_rests: tuple[Rest, ...] = ()
    resting: bool = False
    quiet_since_s: float | None = None
    quiet_ug: int = 0
    streaming: bool = False
    level_ug: int | None = None
    missed: bool = False
    followed_s: float | None = None
    followed_ug: int | None = None
    flow_ug_s: float = 0.0
    slope_ug_s: float = 0.0
    late_s: float | None = None
    back: Reading | None = None
    lowest_ug: int | None = None
    most_ug: int | None = None
    sank_s: float = 0.0
    leapt_ug: int = 0
    following: bool = False
    told_to_pour_s: float | None = None
    told_from_s: float | None = None
    telling: bool = False
    stood: Rest | None = None
    pan_zero_ug: int | None = None
    last_go_s: float | None = None
    rise: Rise = ()
    knock: Knock | None = None
    zero_s: float = 0.0
    rose: Literal["", "cup", "zero"] = ""
    leap: Leap | None = None
    way: Rise = ()
    way_from: Rest | None = None
    fell_ug: int | None = None
    zeroed: bool = False
    counted: Counted = Counted()
    renewal: Renewal = Renewal()

    @property
    def usual_s(self) -> float | None:
        """How often something new is shown; ``None`` where that is not known yet."""
        return usual(self.recent, self.renewal.every_s)

    @property
    def rests(self) -> tuple[Rest, ...]:
        """Those that can be compared with the newest reading: what the scale showed while
        tared or in another unit is no empty pan, nor a fall."""
        if self.last is None:
            return ()
        frame = frame_of(self.last)
        return tuple(rest for rest in self.all_rests if rest.frame == frame)

    @property
    def rest(self) -> Rest | None:
        """The newest rest, which may have ended since (see ``resting``)."""
        if self.last is None:
            return None
        frame = frame_of(self.last)
        for rest in reversed(self.all_rests):  # asked for several times with each reading
            if rest.frame == frame:
                return rest
        return None

    @property
    def division_ug(self) -> int:
        return self.last.division_ug if self.last else 0

    def recent_rest(self, now_s: float) -> Rest | None:
        """A rest that still stands for what is on the pan, or ``None``.

        It is at most 1.5 s old, no stream has begun since, and the newest reading is
        within two divisions of it: so one noisy reading does not lose a settled weight.
        """
        rest, last = self.rest, self.last
        if rest is None or last is None or self.streaming:
            return None
        fresh = now_s - rest.at_s <= 1.5
        near = abs(last.mass_ug - rest.mass_ug) <= 2 * last.division_ug
        return rest if fresh and near else None

    @property
    def upper_ug(self) -> int:
        """The higher of the last two readings: a fall is never what a single frame says."""
        return max(reading.mass_ug for reading in self.recent[-2:])

    @property
    def middle_ug(self) -> int:
        """The middle one of the last three readings: never what a single frame says."""
        masses = sorted(r.mass_ug for r in self.recent[-3:])
        return masses[len(masses) // 2] if len(masses) == 3 else min(masses, default=0)

    def lump(self) -> Rest | None:
        """The rest before the newest, where the weight has risen since by more than drops
        do at once: a small pour, too short to show as a stream. Else ``None``."""
        if not self.resting or len(self.rests) < 2:
            return None
        before, now = self.rests[-2:]
        return before if now.mass_ug - before.mass_ug > max(DROP_UG, self.division_ug) else None

    def dabbed(self, since_s: float) -> bool:
        """Whether the newest rest came about by more than drops do, and faster than drips."""
        if len(self.rests) < 2 or self.rests[-1].since_s <= since_s:
            return False
        before, now = self.rests[-2:]
        rise = now.mass_ug - before.mass_ug
        return rise > max(DROP_UG, self.division_ug) and (
            rise > DRIP_UG_S * (now.since_s - before.at_s)
        )

    def hears(self, now_s: float) -> bool:
        """Whole readings have come, and none is missing."""
        return self.last is not None and not self.silent(now_s)

    @property
    def gap_s(self) -> float:
        """From the last reading with which the cup was followed to the first one since."""
        if self.back is None or self.followed_s is None:
            return float("inf")
        return self.back.at_s - self.followed_s

    def fault_now(self, now_s: float) -> Fault | None:
        """Why there is no weight, as the scale or its line said last."""
        if self.fault is None or self.fault.kind is FaultKind.LINK:
            return self.fault  # said once
        return self.fault if now_s - self.fault.at_s <= FAULT_STANDS_S else None

    def silent(self, now_s: float) -> bool:
        """No whole reading for longer than a gap may last."""
        since = self.last.at_s if self.last else self.since_s
        return since is not None and now_s - since > SILENT_AFTER_S


def display_late_s(sight: Sight) -> float | None:
    """How late the display is: of all cups that were put down the quickest tells it."""
    cup_ug = sight.rest.mass_ug - (sight.pan_zero_ug or 0) if sight.rest else 0
    told = (sight.late_s, delay_s(sight.rise, cup_ug))
    return min((late_s for late_s in told if late_s is not None), default=None)


def fall_ug(division_ug: int) -> int:
    """How far below the level a reading must be for the cup to have been touched."""
    return max(FALL_UG, 5 * division_ug)


def lightest_cup_ug(division_ug: int) -> int:
    """The least that is taken for a cup: what is lighter may be the empty pan."""
    return max(1_000_000, 3 * division_ug)


def empty_ug(division_ug: int) -> float:
    """How far from its zero an empty pan may show: what lies on it would come back as content."""
    return max(50_000, 1.5 * division_ug)


def slack_ug(division_ug: int) -> int:
    """By how much a weight may be shown too small by noise alone."""
    return max(300_000, 2 * division_ug)


def below_zero(reading: Reading) -> bool:
    """Whether so much less than nothing is shown that something was taken off a pan which the
    scale had taken for empty."""
    return reading.mass_ug <= -lightest_cup_ug(reading.division_ug)
