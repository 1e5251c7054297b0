"""How a target is approached: when to ease the stream, when to stop it, what was learned.

Pure, and volatile: losing it costs a top-up. What is shown is late and the hand is later,
so both cues come before the figure is reached. With `left` to go by the display and a
flow `f`, what is on its way when `stop` is said is

    overrun = f * lead + drips,

`lead` being the scale's filters, the hand's reaction, half the closing and the stream in
the air. The filters show when the cup is put down (:mod:`mixer.pour.put_down`); the hand
begins as the bench table of the project has it. The resin, of which a little more or less
costs nothing, is eased and stopped as the hardener will be: how it then comes to rest
tells lead and drips of this builder on this scale, and each approach after it tells them
anew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from devices.readings import Reading

HAND_S = 0.6  # reaction 0.3 s, closing 0.15 s, fall 0.15 s
DISPLAY_S = 0.35  # where nothing is known of the scale
LEAD_S = HAND_S + DISPLAY_S
SLOWER_S = 0.45  # a hand that was not seen yet may be so much slower
LEAD_RANGE_S = (0.5, 2.5)
THIN_UG_S = 600_000  # of such a stream, half is believed of the lead that was found (our choice)
FASTEST_UG_S = 12_000_000  # until a stream was seen
THINNER = 2  # a hardener runs so much faster than its resin (our choice)
USUAL_UG_S = 6_000_000  # where a stream that is faster than that costs nothing but time
BLIND_S = 0.6  # before a new stream is shown for what it is: opening, and the flow's window
SHORT_S, LONG_S = 0.5, 1.5
#: A slow scale needs longer to tell a steady stream: until it has said so much, but no longer.
FIGURES, LONGEST_S = 10, 2.5
REST_S = 2.0  # of a weight at rest, so long is looked at for its middle
GENTLE_UG_S = 1_000_000  # as a gentle stream is meant
NOT_SO_GENTLE_UG_S = 1_500_000  # as a careful hand may take it, on the project's bench table
STRONG_UG_S = 2_000_000  # what a hand may take for gentle
FAINT_UG_S, HASTY_UG_S = 500_000, 2_500_000  # of the hands on the project's bench table
DRIPS_FROM_S = 1.1  # after the lead: what comes later has dripped
DRIP_UG = 100_000  # of any jug, while the stream closes
DRIP_MOST_UG = 2_000_000  # what is more was poured on after `stop`
DRIPS_IN_ALL = 1.4  # drips thin out: of those of a cold jug, by what fell after that
PULSE_LEAST_S = 0.3  # a shorter cue would be over before the hand has reacted
OPENING_S = 0.13  # of a short stream, what is lost while it opens, less what comes as it closes


@dataclass(frozen=True, slots=True)
class Habits:
    """What builder, jug and scale have shown in this batch so far."""

    lead_s: float = LEAD_S
    leads: int = 0  # that were measured
    fastest_ug_s: float = 0.0
    drip_ug: int = DRIP_UG

    @property
    def ease_lead_s(self) -> float:
        """The lead, or what it may be at most in usual hands while it was not measured."""
        return self.lead_s if self.leads else self.lead_s + SLOWER_S

    def ease_room_ug(self, steady_s: float) -> float:
        """What is to be left when a gentle stream has taken over: it must be seen to run
        steadily for so long before it is stopped."""
        return STRONG_UG_S * (self.lead_s + steady_s) + self.drip_ug


@dataclass(frozen=True, slots=True)
class Stopped:
    """How things stood when `stop` was said; ``steady``: with a stream that had been so
    for a while. ``later_ug`` is the net when only drips were left to come."""

    at_s: float
    net_ug: float
    flow_ug_s: float
    steady: bool
    later_ug: int | None = None


def at_first(delay_s: float | None) -> Habits:
    """Of a builder who was not seen yet, at a display that is so late."""
    return Habits() if delay_s is None else Habits(lead_s=HAND_S + delay_s)


def steady_s(every_s: float | None) -> float:
    """For how long a steady stream is looked at, on a scale that says something new so often.

    >>> steady_s(0.05), steady_s(0.2), steady_s(1.0), steady_s(None)
    (1.5, 2.0, 2.5, 1.5)
    """
    return LONG_S if every_s is None else min(LONGEST_S, max(LONG_S, FIGURES * every_s))


def pours_at_first(habits: Habits, wanted_ug: int, long_s: float, *, free: bool) -> bool:
    """Whether there is enough to pour that a full stream can be seen, and then eased;
    ``free``: nothing is lost where it is too fast for that, for there is no band."""
    seen_ug_s = habits.fastest_ug_s * (1 if free else THINNER)
    fastest = min(FASTEST_UG_S, seen_ug_s) or (USUAL_UG_S if free else FASTEST_UG_S)
    return wanted_ug >= fastest * (habits.ease_lead_s + BLIND_S) + habits.ease_room_ug(long_s)


def seen(habits: Habits, flow_ug_s: float) -> Habits:
    """After a stream was seen to run like this."""
    return habits if flow_ug_s <= habits.fastest_ug_s else replace(habits, fastest_ug_s=flow_ug_s)


def pulse_s(habits: Habits, wanted_ug: float, low_ug: float, high_ug: float) -> float:
    """For how long a gentle stream is asked for that is to bring ``wanted_ug``, and may bring
    what is between the other two.

    It is over before the display says how gentle it is: so for no longer than the strongest
    may run. Where that may end short of the band, and the band is narrower than what the
    shortest may then bring, it is so much shorter that this one finds its room.
    """
    most_s = (high_ug - habits.drip_ug) / HASTY_UG_S
    least_ug = habits.drip_ug + HASTY_UG_S * (PULSE_LEAST_S - OPENING_S)
    may_be_short = habits.drip_ug + FAINT_UG_S * most_s < low_ug
    two_s = most_s - least_ug / HASTY_UG_S
    if may_be_short and high_ug - low_ug < least_ug and two_s > 0:
        most_s = two_s
    gentle_s = (wanted_ug - habits.drip_ug) / GENTLE_UG_S
    return max(PULSE_LEAST_S, min(gentle_s, most_s) + OPENING_S)


def shortest_ug(habits: Habits) -> float:
    """What the shortest of them may bring, but for a late hand."""
    return NOT_SO_GENTLE_UG_S * (PULSE_LEAST_S - OPENING_S) + habits.drip_ug


def must_ease(habits: Habits, flow_ug_s: float, left_ug: float, long_s: float) -> bool:
    """Whether the full stream would otherwise leave too little for a gentle one."""
    room_ug = habits.ease_room_ug(long_s)
    return flow_ug_s > 0 and left_ug <= flow_ug_s * habits.ease_lead_s + room_ug


def must_stop(habits: Habits, flow_ug_s: float, left_ug: float, eased_s: float | None) -> bool:
    """Whether what is on its way, and will drip, is all that is left. ``eased_s`` ago the
    stream was asked to be gentle: what is shown of it is older than that for a while."""
    if flow_ug_s <= 0:  # nothing pours yet, and nothing will drip of it
        return left_ug <= 0
    left_ug -= habits.drip_ug
    if eased_s is not None and eased_s < habits.lead_s + SHORT_S:
        left_ug -= flow_ug_s * max(0.0, habits.lead_s - eased_s)
        flow_ug_s = min(flow_ug_s, GENTLE_UG_S)
    return left_ug <= flow_ug_s * habits.lead_s


def line(readings: Sequence[Reading], span_s: float) -> tuple[float, float]:
    """Weight and flow at the newest reading, by a straight line through the last so many
    seconds; of fewer than three readings in them, through the last three."""
    newest = readings[-1]
    window = [r for r in readings if newest.at_s - r.at_s <= span_s]
    window = window if len(window) >= 3 else list(readings[-3:])
    mean_t = sum([r.at_s for r in window]) / len(window)
    mean_ug = sum([r.mass_ug for r in window]) / len(window)
    spread = sum([(r.at_s - mean_t) ** 2 for r in window])
    if len(window) < 3 or spread <= 0:
        return newest.mass_ug, 0.0
    slope = sum([(r.at_s - mean_t) * (r.mass_ug - mean_ug) for r in window]) / spread
    return mean_ug + slope * (newest.at_s - mean_t), slope


def middle_ug(readings: Sequence[Reading]) -> float:
    """Of the last so many, as they lie at rest."""
    window = [r.mass_ug for r in readings if readings[-1].at_s - r.at_s <= REST_S]
    return sum(window) / len(window)


def span_s(habits: Habits, eased_s: float | None, long_s: float) -> float:
    """From how long the flow is read: a gentle stream is steady, once it is shown."""
    if eased_s is None:
        return SHORT_S
    return min(long_s, max(SHORT_S, eased_s - habits.lead_s))


def shown_part(habits: Habits, delay_s: float | None, eased_s: float, long_s: float) -> float:
    """How much of a gentle stream the flow shows that is read now: two filters in a row (see
    :mod:`mixer.pour.put_down`) show one that began from nothing late and by and by. They
    answer a ramp of slope 1 by ``x - 2 + (2 + x) exp(-x)``, x being the time over T; what
    is read is its slope over the flow's window. Never less than half is told, for earlier
    than that nobody knows when the jug opened.

    >>> slow = Habits(lead_s=1.8)
    >>> [round(shown_part(slow, 1.2, eased_s, 1.5), 2) for eased_s in (2.0, 3.0, 4.1, 9.0)]
    [0.57, 0.78, 0.93, 1.0]
    """
    delay_s = DISPLAY_S if delay_s is None else delay_s
    half_s, opened_s = delay_s / 2, habits.lead_s - delay_s
    to = (eased_s - opened_s) / half_s
    start = to - span_s(habits, eased_s, long_s) / half_s
    return max(0.5, (_ramp(to) - _ramp(start)) / (to - start))


def unshown_s(delay_s: float | None, since_s: float) -> float:
    """Of a stream that ended so long ago, what the display has still to show, in seconds of it:
    of the two filters above, ``(2 + x) T exp(-x)``.

    >>> [round(unshown_s(1.2, since_s), 2) for since_s in (0.0, 1.2, 2.4)]
    [1.2, 0.32, 0.07]
    """
    half_s = (DISPLAY_S if delay_s is None else delay_s) / 2
    since = max(0.0, since_s) / half_s
    return (2 + since) * half_s * math.exp(-since)


def _ramp(x: float) -> float:
    return x - 2 + (2 + x) * math.exp(-x) if x > 0 else 0.0


def learned(habits: Habits, stopped: Stopped | None, net_ug: int) -> Habits:
    """After what was stopped so had dripped out, and lay there at this.

    What came late is told apart as drips, and stays so; the rest was the stream's. A thin
    stream tells little of the lead: the drops of its jug are as much as its reaction.
    """
    if stopped is None or stopped.later_ug is None:
        return habits
    later_ug = max(0, net_ug - stopped.later_ug)
    drip_ug = min(DRIP_MOST_UG, DRIP_UG + round(DRIPS_IN_ALL * later_ug))
    flow = stopped.flow_ug_s
    if not stopped.steady or flow <= 0:
        return replace(habits, drip_ug=drip_ug)
    came_ug = net_ug - stopped.net_ug
    least, most = LEAD_RANGE_S
    found_s = min(most, max(least, (came_ug - drip_ug) / flow))
    weight = flow**2 / (flow**2 + THIN_UG_S**2)
    lead_s = habits.lead_s + weight * (found_s - habits.lead_s)
    return replace(habits, lead_s=lead_s, leads=habits.leads + 1, drip_ug=drip_ug)
