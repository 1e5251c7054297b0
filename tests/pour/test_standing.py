"""What is enough, what is settled, and how long has been waited, asked directly."""

from __future__ import annotations

import pytest
from support.pouring import hold_at, ramp, tared_and_resin, terms

from mixer.pour.facts import Called, Opened, Tared
from mixer.pour.standing import enough, settled, waited_s
from mixer.pour.state import Pour, fold

G = 1_000_000


def asked(component: int, target_g: float, low_g: float, high_g: float, addition: bool) -> Pour:
    """A pour in which this was called."""
    ug = [round(g * G) for g in (target_g, low_g, high_g)]
    pour = fold(
        [
            Opened(0, terms(60)),
            Tared(1, 12 * G, 0, 100_000, "g", False, "12.0 g"),
            Called(2, component, 12 * G, 0, *ug, addition=addition, late_drips=False),
        ]
    )
    assert pour is not None
    return pour


@pytest.mark.parametrize(
    ("net_ug", "is_enough"),
    [(42_776_999, False), (42_777_000, True), (60 * G, True), (60 * G + 1, False)],
)
def test_of_the_first_resin_97_hundredths_are_enough_though_less_could_be_proven(
    net_ug: int, is_enough: bool
) -> None:
    assert enough(asked(0, 44.1, 20, 60, addition=False), net_ug) is is_enough


@pytest.mark.parametrize(("component", "addition"), [(1, False), (1, True), (0, True)])
@pytest.mark.parametrize(
    ("net_ug", "is_enough"),
    [(15 * G - 1, False), (15 * G, True), (17 * G, True), (17 * G + 1, False)],
)
def test_of_everything_else_the_limits_themselves_are_enough(
    component: int, addition: bool, net_ug: int, is_enough: bool
) -> None:
    """The low limit lies below 97 hundredths of the target."""
    assert enough(asked(component, 16, 15, 17, addition), net_ug) is is_enough


def test_while_the_pour_is_held_no_rest_is_settled() -> None:
    """However well the empty pan rests."""
    guide, now = tared_and_resin(hands_free=False)
    assert settled(guide.pour, guide.sight, now) is not None
    now = hold_at(guide, 0, now, 2)
    assert guide.sight.recent_rest(now) is not None
    assert settled(guide.pour, guide.sight, now) is None


def test_while_a_stream_runs_nothing_has_been_waited() -> None:
    guide, now = tared_and_resin(hands_free=False)
    assert waited_s(guide.pour, guide.sight, now) > 2
    now = ramp(guide, 56.1, 58.1, now, 1)
    assert waited_s(guide.pour, guide.sight, now) == 0
