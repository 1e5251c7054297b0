"""How late the estimator of weight and flow is: behind what is shown, and behind the pan."""

from __future__ import annotations

import math

import pytest

from devices.readings import Reading
from mixer.pour.approach import LONG_S, LONGEST_S, SHORT_S, line

FLOW_UG_S = 1_500_000
FROM_S = 4.0  # when the stream begins


def pan_ug(t_s: float) -> float:
    return FLOW_UG_S * max(0.0, t_s - FROM_S)


def display_ug(t_s: float, delay_s: float) -> float:
    """The pan's ramp behind two equal filters in a row, in closed form (as in
    :func:`mixer.pour.approach.shown_part`); their delay on a ramp is twice their time."""
    if not delay_s:
        return pan_ug(t_s)
    half_s = delay_s / 2
    x = max(0.0, t_s - FROM_S) / half_s
    return FLOW_UG_S * half_s * (x - 2 + (2 + x) * math.exp(-x))


def told(t_s: float, per_s: int, delay_s: float, span_s: float) -> tuple[float, float]:
    """What :func:`line` says at this time, of readings in steps of 0.01 g."""
    times = [t_s - i / per_s for i in range(per_s * 3, -1, -1)]
    masses = [round(display_ug(t, delay_s) / 10_000) * 10_000 for t in times]
    return line(
        [Reading(m, "", "g", 10_000, False, at_s=t) for m, t in zip(masses, times, strict=True)],
        span_s,
    )


@pytest.mark.parametrize("per_s", [4, 10, 20])
@pytest.mark.parametrize("delay_s", [0.0, 0.35, 1.2])
@pytest.mark.parametrize("span_s", [SHORT_S, LONG_S, LONGEST_S])
def test_on_a_steady_stream_only_the_display_is_late(
    per_s: int, delay_s: float, span_s: float
) -> None:
    t_s = FROM_S + 12 * max(delay_s, 0.5)
    mass_ug, flow_ug_s = told(t_s, per_s, delay_s, span_s)
    assert (pan_ug(t_s) - mass_ug) / FLOW_UG_S == pytest.approx(delay_s, abs=0.01)
    assert flow_ug_s == pytest.approx(FLOW_UG_S, rel=0.02)


@pytest.mark.parametrize(
    ("per_s", "span_s", "lag_s"),
    [
        (10, SHORT_S, 0.25),
        (20, SHORT_S, 0.25),
        (10, LONG_S, 0.75),
        (20, LONG_S, 0.75),
        (4, LONGEST_S, 1.25),
    ],
)
def test_a_flow_that_changes_is_seen_half_the_window_later(
    per_s: int, span_s: float, lag_s: float
) -> None:
    times = [FROM_S + i / 100 for i in range(300)]
    flows = [told(t, per_s, 0.0, span_s)[1] for t in times]
    half_s = next(t for t, flow in zip(times, flows, strict=True) if flow >= FLOW_UG_S / 2)
    assert half_s - FROM_S == pytest.approx(lag_s, abs=1 / per_s)
    whole_s = next(t for t, flow in zip(times, flows, strict=True) if flow >= 0.995 * FLOW_UG_S)
    assert whole_s - FROM_S == pytest.approx(span_s, abs=max(0.1, 1 / per_s))
