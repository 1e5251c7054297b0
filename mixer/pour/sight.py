"""What the last few readings show: rest, flow, level. Volatile, constant memory.

Nothing here is durable and nothing here decides; losing it costs a second. Weights
are as displayed (the pour adds its own shift). Rules:

1. A weight is *at rest* as :mod:`mixer.pour.rests` has it. Never a single one.
2. A *stream* is a rise that drips do not reach: 0.3 g (or four divisions) within a
   second; or, on a scale too coarse to show that, a creep of 1 g (or two divisions).
   A *lump* is a stream too short to show: two rests further apart than drops.
3. The *level* is the weight that the cup is known to have now: the rest, or the
   lower edge of the last half second while something is pouring. A bump upwards does not
   move it, nor what comes faster than any stream and is soon gone again; and a fall far
   below it means that the cup was touched.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.counts_by import Counted, counted
from mixer.pour.inputs import Failed, Input, Key, Weighed
from mixer.pour.leaps import (
    COME_TO_STAY_S,
    FASTEST_UG_S,
    JITTER_S,
    PUT_DOWN_UG_S,
    Leap,
    every_s,
    leapt,
)
from mixer.pour.put_down import Rise, risen
from mixer.pour.rests import Rest, added, found, frame_of

SILENT_AFTER_S = 1.0  # a gap: at four readings a second, four in a row are missing
FAULT_STANDS_S = 2.0  # a scale that said why it shows no weight, and then nothing, is silent
MEMORY_S = 2.5
MEMORY_COUNT = 128
DOUBLE_PRESS_S = 0.6
TOLD_S = 1.5  # so long a stream may run on after the builder was last told to pour
SHORT_GAP_S, MISSING = 0.3, 1.6  # a reading is missing: so many times the usual time

STREAM_UG = 300_000
CREEP_UG = 1_000_000
FALL_UG = 1_000_000
DRIP_UG_S = 200_000  # 0.6 g in 8 s, thinning out; the slowest stream is 0.35 g/s
ON_ITS_WAY = 0.2  # of a cup's weight: more than a pan swings by when the cup is off (our choice)
DROP_UG = 150_000  # a drop is about 0.05 g: no more than three at once (practice)


@dataclass(frozen=True, slots=True)
class Knock:
    """What came at once upon a cup that was followed: since when, and the weight half way up
    to it."""

    at_s: float
    half_ug: int


@dataclass(frozen=True, slots=True)
class Sight:
    """What has been seen. ``all_rests`` are the last few distinct levels, the newest last;
    ``missed``: before the newest reading there was a gap, and nobody has noticed it yet;
    since the cup was last followed, at ``followed_s`` and showing ``followed_ug``,
    ``back`` is the first whole reading, ``lowest_ug`` the least weight, and ``leapt_ug``
    the most by which it rose faster than any stream;
    ``told_to_pour_s``: when the builder was last shown a cue to pour, ``told_from_s``: since
    when, with no other cue between, ``telling``: whether it is shown now; ``rise``: how the
    cup's weight came, when it was put down; ``knock``: what came upon the pan faster than any
    stream, and may soon be gone again; ``zero_s``: what was shown before this tells nothing
    of an empty pan, for then the scale was not heard, or may have been zeroed; ``rose``:
    how it came up from less than nothing since the cup was last followed, by a cup or by a
    press of zero; ``leap``: what came faster than any stream upon a cup that is followed;
    ``fell_ug``: what one reading showed that may be of a scale which was zeroed since the one
    before; ``zeroed``: the next one did not take it back; ``counted``: by what step the
    scale counts."""

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
    back: Reading | None = None
    lowest_ug: int | None = None
    leapt_ug: int = 0
    following: bool = False
    told_to_pour_s: float | None = None
    told_from_s: float | None = None
    telling: bool = False
    pan_zero_ug: int | None = None
    last_go_s: float | None = None
    rise: Rise = ()
    knock: Knock | None = None
    zero_s: float = 0.0
    rose: Literal["", "cup", "zero"] = ""
    leap: Leap | None = None
    fell_ug: int | None = None
    zeroed: bool = False
    counted: Counted = field(default_factory=Counted)

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
        return self.rests[-1] if self.rests else None

    @property
    def division_ug(self) -> int:
        return self.last.division_ug if self.last else 0

    def recent_rest(self, now_s: float) -> Rest | None:
        """A rest that still stands for what is on the pan, or ``None``.

        It is at most 1.5 s old, no stream has begun since, and the newest reading is
        within two divisions of it: so one noisy reading does not lose a settled weight.
        """
        if self.rest is None or self.last is None or self.streaming:
            return None
        fresh = now_s - self.rest.at_s <= 1.5
        near = abs(self.last.mass_ug - self.rest.mass_ug) <= 2 * self.division_ug
        return self.rest if fresh and near else None

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


def observe(sight: Sight, happened: Input, *, following: bool) -> Sight:
    """What is seen after this. ``following``: the cup's level is being followed (a pour
    is on and is not in trouble); otherwise it is forgotten and found anew."""
    if sight.since_s is None:
        sight = replace(sight, since_s=happened.at_s)
    if following != sight.following:
        # A pour that goes on does so from a rest.
        level = sight.rest.mass_ug if following and sight.rest else None
        sight = replace(_forget(sight), following=following, level_ug=level)
    match happened:
        case Weighed(reading):
            return _weighed(sight, reading)
        case Failed(fault) if fault.kind is FaultKind.NONSENSE and sight.hears(fault.at_s):
            return sight  # a damaged frame among whole ones
        case Failed(fault):
            return replace(sight, fault=fault)
        case Key(word="go"):
            return replace(sight, last_go_s=happened.at_s)
        case Key(word="hold"):  # a go after it is no echo of the one before
            return replace(sight, last_go_s=None)
        case _:
            return sight


def shown(sight: Sight, cue: str, at_s: float) -> Sight:
    """What is seen after this cue was shown: who is told to pour may have poured, even if
    it was too little to be seen as a stream."""
    if cue not in ("pour", "ease"):
        return replace(sight, telling=False) if sight.telling else sight
    from_s = sight.told_from_s if sight.telling else at_s
    return replace(sight, told_to_pour_s=at_s, told_from_s=from_s, telling=True)


def is_double_press(sight: Sight, key: Key) -> bool:
    """Whether this ``go`` is the echo of one just before: a pedal's bounce, or a held key."""
    return (
        key.word == "go"
        and sight.last_go_s is not None
        and key.at_s - sight.last_go_s < DOUBLE_PRESS_S
    )


def fall_ug(division_ug: int) -> int:
    """How far below the level a reading must be for the cup to have been touched."""
    return max(FALL_UG, 5 * division_ug)


def lightest_cup_ug(division_ug: int) -> int:
    """The least that is taken for a cup: what is lighter may be the empty pan."""
    return max(1_000_000, 3 * division_ug)


def empty_ug(division_ug: int) -> float:
    """How far from its zero an empty pan may show: what lies on it would come back as content."""
    return max(50_000, 1.5 * division_ug)


def _weighed(sight: Sight, reading: Reading) -> Sight:
    sight = replace(sight, counted=counted(sight.counted, reading))
    if sight.counted.now_ug > reading.division_ug:
        reading = replace(reading, division_ug=sight.counted.now_ug)
    last = sight.last
    if last is not None and frame_of(reading) != frame_of(last):
        sight = replace(_forget(sight), recent=(), quiet_since_s=None)
    gap = last is not None and (sight.silent(reading.at_s) or _may_have_restarted(sight, reading))
    broken = sight.fault is not None or gap
    missed = sight.following and gap
    kept = () if broken else sight.recent
    recent = tuple(r for r in kept if reading.at_s - r.at_s <= MEMORY_S)[-MEMORY_COUNT + 1 :]
    recent = (*recent, reading)
    still = found(recent)
    streaming = _rise_ug(recent) >= max(STREAM_UG, 4 * reading.division_ug)
    seen = replace(
        sight,
        recent=recent,
        last=reading,
        fault=None,
        missed=missed,
        followed_s=reading.at_s if sight.following and not missed else sight.followed_s,
        back=None if sight.following else sight.back or reading,
        lowest_ug=_lower(sight, reading),
        leapt_ug=0 if sight.following else max(sight.leapt_ug, _leap_ug(recent)),
        resting=still is not None,
        streaming=streaming,
        all_rests=added(sight.all_rests, still, reading.division_ug),
        quiet_since_s=None if broken or streaming else sight.quiet_since_s,
        rise=sight.rise if sight.following else _risen(sight.rise, reading),
        zero_s=reading.at_s if broken or _may_be_zeroed(sight, reading) else sight.zero_s,
        rose=_rose(sight, reading),
        fell_ug=_fell_ug(sight, reading),
        zeroed=sight.fell_ug is not None and not _taken_back(sight, reading),
    )
    seen = _quieten(_see_pan(seen, still), still)
    if last is not None and frame_of(reading) != frame_of(last):
        return seen  # counted otherwise, perhaps in coarser steps: the level stays
    return _leapt(_follow(seen, still))


def _leapt(sight: Sight) -> Sight:
    """With what came at once upon the cup that is followed, if something did."""
    if not sight.following or sight.level_ug is None:
        return sight
    least_ug = fall_ug(sight.division_ug)  # more than that below the level, the cup was off
    recent = tuple(r for r in sight.recent if r.mass_ug >= sight.level_ug - least_ug)
    if sight.last not in recent[-1:]:
        return sight
    return replace(sight, leap=leapt(sight.leap, recent, least_ug))


def _forget(sight: Sight) -> Sight:
    """What is forgotten when the cup begins to be followed, or is not followed any more; but
    not that the scale may have been at nothing since."""
    lowest_ug = min(0, sight.fell_ug) if sight.zeroed and sight.fell_ug is not None else None
    anew = replace(sight, back=None, lowest_ug=lowest_ug, leapt_ug=0, knock=None, rose="")
    return replace(anew, leap=None, fell_ug=None, zeroed=False)


def slack_ug(division_ug: int) -> int:
    """By how much a weight may be shown too small by noise alone."""
    return max(300_000, 2 * division_ug)


def _within_a_stream(sight: Sight, reading: Reading) -> bool:
    """Whether so little is shown that a stream may have brought all of it since the reading
    before, upon a cup that the scale took for nothing meanwhile."""
    assert sight.last is not None
    most_ug = FASTEST_UG_S * (reading.at_s - sight.last.at_s) + slack_ug(reading.division_ug)
    return abs(reading.mass_ug) <= most_ug


def _may_have_restarted(sight: Sight, reading: Reading) -> bool:
    """Whether a reading or more is missing in a stream, and the load so light that it may all
    have come since: a scale that was off for a moment takes for zero what stands on it."""
    last, usual_s = sight.last, every_s(sight.recent)
    if not sight.following or last is None or usual_s is None:
        return False
    told_s = sight.told_to_pour_s
    told = told_s is not None and reading.at_s - told_s < TOLD_S
    late_s = max(SHORT_GAP_S, MISSING * usual_s)
    return told and reading.at_s - last.at_s > late_s and _within_a_stream(sight, reading)


def _fell_ug(sight: Sight, reading: Reading) -> int | None:
    """So little is shown at once that zero may have been pressed in the stream: it may soon
    fill up again what the fall took."""
    level, last = sight.level_ug, sight.last
    if not sight.following or level is None or last is None or sight.fell_ug is not None:
        return sight.fell_ug if sight.following and not _taken_back(sight, reading) else None
    lower = reading.mass_ug < min(level, last.mass_ug) - slack_ug(reading.division_ug)
    same = frame_of(reading) == frame_of(last)
    return reading.mass_ug if same and lower and _within_a_stream(sight, reading) else None


def _taken_back(sight: Sight, reading: Reading) -> bool:
    """Whether a fall of one reading was a wrong frame: back at once, as no stream can be."""
    if sight.last is None or sight.fell_ug is None or not sight.following:
        return True
    rise_ug = reading.mass_ug - sight.last.mass_ug
    most_ug = FASTEST_UG_S * (reading.at_s - sight.last.at_s) + slack_ug(reading.division_ug)
    return rise_ug > most_ug


def below_zero(reading: Reading) -> bool:
    """Whether so much less than nothing is shown that something was taken off a pan which the
    scale had taken for empty."""
    return reading.mass_ug <= -lightest_cup_ug(reading.division_ug)


def _may_be_zeroed(sight: Sight, reading: Reading) -> bool:
    """Whether less than nothing is shown, or at once less than half of what was: zero may have
    been pressed upon a cup, also as it comes back. Where it was lifted the pan is seen next."""
    if below_zero(reading):
        return True
    if sight.following or sight.last is None:
        return False
    fell_ug = sight.last.mass_ug - reading.mass_ug
    much_ug = max(500_000, 3 * reading.division_ug)
    return fell_ug > much_ug and 2 * reading.mass_ug < sight.last.mass_ug


def _rose(sight: Sight, reading: Reading) -> Literal["", "cup", "zero"]:
    """A cup is seen on its way, even by a slow scale; a press of zero shows zero at once."""
    last, lowest_ug = sight.last, sight.lowest_ug
    if sight.following or below_zero(reading):
        return ""
    if last is None or lowest_ug is None or not below_zero(last):
        return sight.rose
    on_its_way = last.mass_ug > (1 - ON_ITS_WAY) * lowest_ug
    near_zero = abs(reading.mass_ug) <= empty_ug(reading.division_ug)
    return "zero" if near_zero and not on_its_way else "cup"


def _risen(rise: Rise, reading: Reading) -> Rise:
    return risen(rise, reading, lightest_cup_ug(reading.division_ug))


def _leap_ug(recent: tuple[Reading, ...], late_s: float = 0.0) -> int:
    """The most by which the weight has risen, up to now, faster than any stream, even where
    a reading came so much late."""
    now = recent[-1]
    return max(
        (
            now.mass_ug - r.mass_ug
            for r in recent[:-1]
            if now.mass_ug - r.mass_ug >= PUT_DOWN_UG_S * (now.at_s - r.at_s + late_s)
        ),
        default=0,
    )


def _lower(sight: Sight, reading: Reading) -> int | None:
    if sight.following:
        return None
    return reading.mass_ug if sight.lowest_ug is None else min(sight.lowest_ug, reading.mass_ug)


def _quieten(sight: Sight, still: Rest | None) -> Sight:
    """Count from when nothing pours: the first rest after the last stream."""
    if still is None or sight.streaming:
        return sight
    crept = still.mass_ug - sight.quiet_ug > max(CREEP_UG, 2 * sight.division_ug)
    lump = sight.lump()
    poured = lump is not None and sight.rests[-1].since_s > (sight.quiet_since_s or 0.0)
    if sight.quiet_since_s is not None and not crept and not poured:
        return sight
    return replace(sight, quiet_since_s=still.at_s, quiet_ug=still.mass_ug)


def _follow(sight: Sight, still: Rest | None) -> Sight:
    last = sight.last
    assert last is not None
    if not sight.following or (sight.missed and sight.level_ug is not None):
        return sight
    sight = _knocked(sight, last)
    level, knock = sight.level_ug, sight.knock
    if level is not None and last.mass_ug < level - fall_ug(sight.division_ug):
        return sight  # fallen: keep what was there
    if knock is None:
        sight = replace(sight, followed_ug=last.mass_ug)
        if still is not None:
            return replace(sight, level_ug=still.mass_ug)
    edge = min(r.mass_ug for r in sight.recent if last.at_s - r.at_s <= 0.5)
    if level is None:
        return replace(sight, level_ug=edge)
    if sight.quiet_since_s is not None or (knock is not None and edge >= knock.half_ug):
        return sight
    return replace(sight, level_ug=max(level, edge))


def _knocked(sight: Sight, last: Reading) -> Sight:
    """With what came at once, if something did; without it, and as before it came, once it is
    gone. What has lain there for long has come to stay."""
    knock, level = sight.knock, sight.level_ug
    if knock is not None and sight.upper_ug < knock.half_ug:
        before = tuple(rest for rest in sight.all_rests if rest.since_s < knock.at_s)
        return replace(sight, knock=None, all_rests=before)
    if knock is not None:
        return sight if last.at_s - knock.at_s < COME_TO_STAY_S else replace(sight, knock=None)
    if level is None:
        return sight
    least_ug = level - fall_ug(sight.division_ug)  # below that, the cup was off
    leap_ug = _leap_ug(tuple(r for r in sight.recent if r.mass_ug >= least_ug), JITTER_S)
    if leap_ug <= fall_ug(sight.division_ug):
        return sight
    return replace(sight, knock=Knock(last.at_s, last.mass_ug - leap_ug // 2))


def _rise_ug(recent: tuple[Reading, ...]) -> float:
    """How much the weight rose over about the last second (means, so that noise is small)."""
    now = recent[-1].at_s
    late = [r.mass_ug for r in recent if now - r.at_s <= 0.3]
    early = [r.mass_ug for r in recent if 0.7 <= now - r.at_s <= 1.1]
    return sum(late) / len(late) - sum(early) / len(early) if early else 0.0


def _see_pan(sight: Sight, still: Rest | None) -> Sight:
    """Remember what the empty pan shows, as long as no cup is being followed. Less than
    nothing is that of a scale which was tared or zeroed with a cup on it, and will be zeroed;
    more than before may be a light cup on its way, until it has stood."""
    least_ug = lightest_cup_ug(sight.division_ug)
    if sight.following or still is None or still.mass_ug >= least_ug:
        return sight
    if still.mass_ug <= -least_ug:
        return replace(sight, pan_zero_ug=None)
    rest, known_ug = sight.all_rests[-1], sight.pan_zero_ug
    if known_ug is not None and rest.mass_ug > known_ug and not rest.stands:
        return sight
    return replace(sight, pan_zero_ug=rest.stood_ug[0])
