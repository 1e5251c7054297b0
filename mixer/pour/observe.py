"""How readings and cues become sight: rest, flow, level. Constant memory. Rules:

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

from dataclasses import replace

from devices.readings import FaultKind, Reading
from mixer.pour import pan_zero
from mixer.pour.approach import DISPLAY_S
from mixer.pour.counts_by import counted
from mixer.pour.inputs import Failed, Input, Key, Weighed
from mixer.pour.leaps import (
    COME_TO_STAY_S,
    GENTLE_MOST_UG_S,
    JITTER_S,
    PUT_DOWN_UG_S,
    Leap,
    is_laid_in,
    leapt,
)
from mixer.pour.put_down import Rise, risen
from mixer.pour.rests import Rest, added, found, frame_of
from mixer.pour.sight import UNSEEN_S, Knock, Sight, display_late_s, fall_ug, lightest_cup_ug

MEMORY_S = 2.5
MEMORY_COUNT = 128
DOUBLE_PRESS_S = 0.6

STREAM_UG = 300_000
RISE_OVER_S = 0.75  # between the middles of the two stretches that a rise is taken from
SLOPE_OVER_S = 0.25
CREEP_UG = 1_000_000
SLOW_TO_STOP_S = 1.0  # that a hand may be slower to stop than to begin (our choice)


def observe(sight: Sight, happened: Input, *, following: bool) -> Sight:
    """What is seen after this. ``following``: the cup's level is being followed (a pour
    is on and is not in trouble); otherwise it is forgotten and found anew."""
    if sight.since_s is None:
        sight = sight._replace(since_s=happened.at_s)
    if following != sight.following:
        # A pour that goes on does so from a rest.
        level = sight.rest.mass_ug if following and sight.rest else None
        sight = _forget(sight)._replace(
            following=following, level_ug=level, late_s=display_late_s(sight)
        )
        if level is not None and not _is_as_followed(sight, level):
            sight = sight._replace(stood=None)  # it may be displayed otherwise since
    match happened:
        case Weighed(reading):
            return _weighed(sight, reading)
        case Failed(fault) if fault.kind is FaultKind.NONSENSE and sight.hears(fault.at_s):
            return sight  # a damaged frame among whole ones
        case Failed(fault):
            return sight._replace(fault=fault)
        case Key(word="go"):
            return sight._replace(last_go_s=happened.at_s)
        case Key(word="hold"):  # a go after it is no echo of the one before
            return sight._replace(last_go_s=None)
        case _:
            return sight


def _is_as_followed(sight: Sight, level_ug: int) -> bool:
    """Whether a pour that goes on shows what it did when it was followed last."""
    known_ug = sight.followed_ug
    return known_ug is not None and abs(level_ug - known_ug) <= fall_ug(sight.division_ug)


def shown(sight: Sight, cue: str, at_s: float) -> Sight:
    """What is seen after this cue was shown: who is told to pour may have poured, even if
    it was too little to be seen as a stream."""
    if cue not in ("pour", "ease", "trickle"):
        sight = sight._replace(telling=False) if sight.telling else sight
        return sight._replace(stood=sight.rest) if _stands_enough(sight, cue) else sight
    from_s = sight.told_from_s if sight.telling else at_s
    return sight._replace(told_to_pour_s=at_s, told_from_s=from_s, telling=True, stood=None)


def _stands_enough(sight: Sight, cue: str) -> bool:
    """Whether this is the first rest, long after the builder was last told to pour, at which he
    is shown that there is enough."""
    if cue not in ("in-band", "next") or sight.stood or not sight.resting or sight.rest is None:
        return False
    told_s = sight.told_to_pour_s
    return told_s is not None and sight.rest.at_s >= told_s + UNSEEN_S


def is_double_press(sight: Sight, key: Key) -> bool:
    """Whether this ``go`` is the echo of one just before: a pedal's bounce, or a held key."""
    return (
        key.word == "go"
        and sight.last_go_s is not None
        and key.at_s - sight.last_go_s < DOUBLE_PRESS_S
    )


def _weighed(sight: Sight, reading: Reading) -> Sight:
    renewal, known = sight.renewal.after(sight.last, reading), counted(sight.counted, reading)
    if (step_ug := known.now_ug) > reading.division_ug:
        reading = replace(reading, division_ug=step_ug)
    last = sight.last
    if last is not None and frame_of(reading) != frame_of(last):
        sight = _forget(sight)._replace(recent=(), quiet_since_s=None, most_ug=None)
    gap = last is not None and (
        sight.silent(reading.at_s) or pan_zero.may_have_restarted(sight, reading)
    )
    broken = sight.fault is not None or gap
    missed = sight.following and gap
    before = () if broken else sight.recent
    kept = [r for r in before if reading.at_s - r.at_s <= MEMORY_S]
    recent = (*kept[-MEMORY_COUNT + 1 :], reading)
    still, rise_ug = found(recent), _rise_ug(recent)
    streaming = rise_ug >= max(STREAM_UG, 4 * reading.division_ug)
    seen = sight._replace(
        recent=recent,
        last=reading,
        fault=None,
        missed=missed,
        followed_s=reading.at_s if sight.following and not missed else sight.followed_s,
        back=None if sight.following else sight.back or reading,
        lowest_ug=_lower(sight, reading),
        sank_s=reading.at_s if _falls(recent) else sight.sank_s,
        most_ug=_most(None if broken else sight.most_ug, reading),
        leapt_ug=0 if sight.following else max(sight.leapt_ug, _leap_ug(recent)),
        resting=still is not None,
        streaming=streaming,
        all_rests=added(sight.all_rests, still, reading.division_ug),
        quiet_since_s=None if broken or streaming else sight.quiet_since_s,
        rise=sight.rise
        if sight.following
        else risen(sight.rise, reading.at_s, reading.mass_ug, lightest_cup_ug(reading.division_ug)),
        zero_s=reading.at_s if broken or pan_zero.may_be_zeroed(sight, reading) else sight.zero_s,
        rose=pan_zero.rose(sight, reading),
        fell_ug=pan_zero.fell_ug(sight, reading),
        zeroed=sight.fell_ug is not None and not pan_zero.taken_back(sight, reading),
        counted=known,
        renewal=renewal,
    )
    seen = _quieten(pan_zero.see_pan(seen, still), still)
    if last is not None and frame_of(reading) != frame_of(last):
        return seen  # counted otherwise, perhaps in coarser steps: the level stays
    return _leapt(_follow(seen, still, rise_ug), still)


def _leapt(sight: Sight, still: Rest | None) -> Sight:
    """With what came at once upon the cup that is followed, if something did."""
    if not sight.following or sight.level_ug is None:
        return sight
    least_ug = fall_ug(sight.division_ug)  # more than that below the level, the cup was off
    recent = _from(sight.recent, sight.level_ug - least_ug)
    if sight.last not in recent[-1:]:
        return sight
    leap = leapt(sight.leap, recent, least_ug, sight.renewal.every_s)
    if still is not None and (leap is None or leap.is_stream):
        leap = _laid_in(sight, still) or leap
    way, way_from = _way(sight, still)
    return sight._replace(leap=leap, way=way, way_from=way_from)


def _way(sight: Sight, still: Rest | None) -> tuple[Rise, Rest | None]:
    """How the weight came from the last rest to here, and that rest."""
    last = sight.last
    assert last is not None
    if still is not None:
        return ((last.at_s, 0),), sight.rest
    if sight.way_from is None:
        return sight.way, None
    upon_ug = last.mass_ug - sight.way_from.mass_ug
    return risen(sight.way, last.at_s, upon_ug, 2 * last.division_ug), sight.way_from


def _laid_in(sight: Sight, still: Rest) -> Leap | None:
    """What came to rest upon what rested before, as suddenly as the cup itself did, when no
    stream was to be expected: as nothing was asked for, or as the first that was."""
    before, usual_s = sight.way_from, sight.usual_s
    if before is None or usual_s is None or len(sight.way) < 2:
        return None
    rise_ug, came_s = still.mass_ug - before.mass_ug, sight.way[1][0]
    from_s, told_s = sight.told_from_s or 0.0, sight.told_to_pour_s or 0.0
    # A gentle pour for a time is as short as a thing that is laid in, and may come late.
    most_ug = GENTLE_MOST_UG_S * (told_s - from_s + SLOW_TO_STOP_S)
    answers = before.since_s <= told_s and rise_ug <= most_ug  # nothing has come since
    while_told = came_s <= told_s and before.since_s <= from_s
    if rise_ug < lightest_cup_ug(sight.division_ug) or (answers and not while_told):
        return None
    late_s = sight.late_s or DISPLAY_S
    if not is_laid_in(sight.way, rise_ug, late_s, usual_s, is_due=while_told):
        return None
    now_s = still.at_s
    return Leap(now_s, before.mass_ug, rise_ug, now_s, laid=True, first=while_told)


def _forget(sight: Sight) -> Sight:
    """What is forgotten when the cup begins to be followed, or is not followed any more; but
    not that the scale may have been at nothing since."""
    lowest_ug = min(0, sight.fell_ug) if sight.zeroed and sight.fell_ug is not None else None
    anew = sight._replace(back=None, lowest_ug=lowest_ug, leapt_ug=0, knock=None, rose="")
    anew = anew._replace(way=(), way_from=None)
    return anew._replace(leap=None, fell_ug=None, zeroed=False)


def _leap_ug(recent: tuple[Reading, ...], late_s: float = 0.0) -> int:
    """The most by which the weight has risen, up to now, faster than any stream, even where
    a reading came so much late."""
    now = recent[-1]
    rises = [
        rise_ug
        for r in recent[:-1]
        if (rise_ug := now.mass_ug - r.mass_ug) >= PUT_DOWN_UG_S * (now.at_s - r.at_s + late_s)
    ]
    return max(rises, default=0)


def _from(recent: tuple[Reading, ...], least_ug: int) -> tuple[Reading, ...]:
    """Those that show no less than this."""
    return tuple([r for r in recent if r.mass_ug >= least_ug])


def _lower(sight: Sight, reading: Reading) -> int | None:
    if sight.following:
        return None
    return reading.mass_ug if sight.lowest_ug is None else min(sight.lowest_ug, reading.mass_ug)


def _most(most_ug: int | None, reading: Reading) -> int:
    return reading.mass_ug if most_ug is None else max(most_ug, reading.mass_ug)


def _quieten(sight: Sight, still: Rest | None) -> Sight:
    """Count from when nothing pours: the first rest after the last stream."""
    if still is None or sight.streaming:
        return sight
    crept = still.mass_ug - sight.quiet_ug > max(CREEP_UG, 2 * sight.division_ug)
    lump = sight.lump()
    poured = lump is not None and sight.rests[-1].since_s > (sight.quiet_since_s or 0.0)
    if sight.quiet_since_s is not None and not crept and not poured:
        return sight
    return sight._replace(quiet_since_s=still.at_s, quiet_ug=still.mass_ug)


def _follow(sight: Sight, still: Rest | None, rise_ug: float) -> Sight:
    last = sight.last
    assert last is not None
    if not sight.following or (sight.missed and sight.level_ug is not None):
        return sight
    sight = _knocked(sight, last)
    level = sight.level_ug
    if level is not None and last.mass_ug < level - fall_ug(sight.division_ug):
        return sight  # fallen: keep what was there
    level_ug = _level_ug(sight, last, still)
    if sight.knock is not None or _falls(sight.recent):  # a cup may be being lifted
        return sight._replace(level_ug=level_ug)
    return sight._replace(
        level_ug=level_ug,
        followed_ug=last.mass_ug,
        flow_ug_s=max(0.0, rise_ug / RISE_OVER_S),
        slope_ug_s=_slope_ug_s(sight.recent),
    )


def _level_ug(sight: Sight, last: Reading, still: Rest | None) -> int:
    """What the cup is known to have now, where it has not fallen."""
    level, knock = sight.level_ug, sight.knock
    if knock is None and still is not None:
        return still.mass_ug
    edge = min([r.mass_ug for r in sight.recent if last.at_s - r.at_s <= 0.5])
    if level is None:
        return edge
    if sight.quiet_since_s is not None or (knock is not None and edge >= knock.half_ug):
        return level
    return max(level, edge)


def _knocked(sight: Sight, last: Reading) -> Sight:
    """With what came at once, if something did; without it, and as before it came, once it is
    gone. What has lain there for long has come to stay."""
    knock, level = sight.knock, sight.level_ug
    if knock is not None and sight.upper_ug < knock.half_ug:
        before = tuple(rest for rest in sight.all_rests if rest.since_s < knock.at_s)
        return sight._replace(knock=None, all_rests=before)
    if knock is not None:
        return sight if last.at_s - knock.at_s < COME_TO_STAY_S else sight._replace(knock=None)
    if level is None:
        return sight
    least_ug = level - fall_ug(sight.division_ug)  # below that, the cup was off
    leap_ug = _leap_ug(_from(sight.recent, least_ug), JITTER_S)
    if leap_ug <= fall_ug(sight.division_ug):
        return sight
    return sight._replace(knock=Knock(last.at_s, last.mass_ug - leap_ug // 2))


def _slope_ug_s(recent: tuple[Reading, ...]) -> float:
    """How fast the last few readings rise: of a stream that ends, what is still to be shown."""
    now = recent[-1]
    before = [r for r in recent if now.at_s - r.at_s >= SLOPE_OVER_S]
    if not before:
        return 0.0
    return max(0.0, (now.mass_ug - before[-1].mass_ug) / (now.at_s - before[-1].at_s))


def _falls(recent: tuple[Reading, ...]) -> bool:
    """Whether the newest reading is less than the one before by more than it may flicker."""
    before, now = recent[-2:] if len(recent) > 1 else (recent[-1], recent[-1])
    return before.mass_ug - now.mass_ug > 2 * now.division_ug


def _rise_ug(recent: tuple[Reading, ...]) -> float:
    """How much the weight rose over about the last second (means, so that noise is small)."""
    now = recent[-1].at_s
    late = [r.mass_ug for r in recent if now - r.at_s <= 0.3]
    early = [r.mass_ug for r in recent if 0.7 <= now - r.at_s <= 1.1]
    return sum(late) / len(late) - sum(early) / len(early) if early else 0.0
