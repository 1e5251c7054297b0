"""How a target is approached: when to ease the stream, when to stop it, what was learned.

Pure, and volatile: losing it costs a top-up. What is shown is late and the hand is later,
so both cues come before the figure is reached. With `left` to go by the display and a
flow `f`, what is on its way when `stop` is said is

    overrun = f * lead + drips,

`lead` being the scale's filters, the hand's reaction, half the closing and the stream in
the air. It begins as the bench table of the project has it, and each approach that comes
to rest tells it anew for this builder on this scale; so do the drips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from devices.readings import Reading

LEAD_S = 0.95  # display 0.35 s, reaction 0.3 s, closing 0.15 s, fall 0.15 s
LEAD_RANGE_S = (0.5, 2.5)
LEARN_FROM_UG_S = 1_500_000  # in a thinner stream the drips are too much of what comes
FASTEST_UG_S = 12_000_000  # until a stream was seen
BLIND_S = 0.6  # before a new stream is shown for what it is: opening, and the flow's window
SHORT_S, LONG_S = 0.5, 1.5  # what a flow is read from: while it changes, and when it is steady
GENTLE_UG_S = 1_000_000  # as a gentle stream is meant
EASE_ROOM_UG = 3_500_000  # to be left when the gentle stream has taken over
DRIPS_FROM_S = 2.0  # after `stop`: what comes later has dripped
DRIP_UG = 100_000  # of any jug, while the stream closes
DRIPS_IN_ALL = 1.8  # drips thin out: of those of a cold jug, by what fell after that


@dataclass(frozen=True, slots=True)
class Habits:
    """What builder, jug and scale have shown in this batch so far."""

    lead_s: float = LEAD_S
    leads: int = 0  # that were measured
    fastest_ug_s: float = 0.0
    drip_ug: int = DRIP_UG


@dataclass(frozen=True, slots=True)
class Stopped:
    """How things stood when `stop` was said; ``steady``: with a stream that had been so
    for a while. ``later_ug`` is the net when only drips were left to come."""

    at_s: float
    net_ug: int
    flow_ug_s: float
    steady: bool
    later_ug: int | None = None


def pours_at_first(habits: Habits, wanted_ug: int) -> bool:
    """Whether there is enough to pour that a full stream can be seen, and then eased."""
    fastest = habits.fastest_ug_s or FASTEST_UG_S
    return wanted_ug >= fastest * (habits.lead_s + BLIND_S) + EASE_ROOM_UG


def seen(habits: Habits, flow_ug_s: float) -> Habits:
    """After a stream was seen to run like this."""
    return habits if flow_ug_s <= habits.fastest_ug_s else replace(habits, fastest_ug_s=flow_ug_s)


def must_ease(habits: Habits, flow_ug_s: float, left_ug: float) -> bool:
    """Whether the full stream would otherwise leave too little for a gentle one."""
    return flow_ug_s > 0 and left_ug <= flow_ug_s * habits.lead_s + EASE_ROOM_UG


def must_stop(habits: Habits, flow_ug_s: float, left_ug: float, eased_s: float | None) -> bool:
    """Whether what is on its way is all that is left. ``eased_s`` ago the stream was asked
    to be gentle: what is shown of it is older than that for a while."""
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
    mean_t = sum(r.at_s for r in window) / len(window)
    mean_ug = sum(r.mass_ug for r in window) / len(window)
    spread = sum((r.at_s - mean_t) ** 2 for r in window)
    if len(window) < 3 or spread <= 0:
        return newest.mass_ug, 0.0
    slope = sum((r.at_s - mean_t) * (r.mass_ug - mean_ug) for r in window) / spread
    return mean_ug + slope * (newest.at_s - mean_t), slope


def span_s(habits: Habits, eased_s: float | None) -> float:
    """From how long the flow is read: a gentle stream is steady, once it is shown."""
    if eased_s is None:
        return SHORT_S
    return min(LONG_S, max(SHORT_S, eased_s - habits.lead_s))


def learned(habits: Habits, stopped: Stopped, net_ug: int) -> Habits:
    """After the stream that was stopped so came to rest at this."""
    if not stopped.steady or stopped.flow_ug_s < LEARN_FROM_UG_S:
        return habits
    came_ug = net_ug - stopped.net_ug - habits.drip_ug
    least, most = LEAD_RANGE_S
    lead_s = min(most, max(least, came_ug / stopped.flow_ug_s))
    known = habits.lead_s if habits.leads else lead_s
    return replace(habits, lead_s=(known + lead_s) / 2, leads=habits.leads + 1)


def dripped(habits: Habits, stopped: Stopped | None, net_ug: int) -> Habits:
    """After the component was settled at this."""
    if stopped is None or stopped.later_ug is None:
        return habits
    later_ug = max(0, net_ug - stopped.later_ug)
    return replace(habits, drip_ug=DRIP_UG + round(DRIPS_IN_ALL * later_ug))
