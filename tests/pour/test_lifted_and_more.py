"""A cup that was lifted, and another trouble upon that."""

import pytest
from support.pouring import Guide, hold_at, press, ramp, tared_and_resin, terms, weighed

from devices.readings import Reading
from mixer.pour.facts import Held
from mixer.pour.inputs import Weighed
from mixer.pour.state import evolve
from mixer.pour.trust import SPILLED


def test_another_trouble_does_not_hide_that_the_cup_was_lifted() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    ramp(guide, 56.1, 62, now, 3)
    pour = evolve(guide.pour, Held(1, "lifted", 60_000_000, ""))
    pour = evolve(pour, Held(2, "unit", 60_000_000, ""))
    assert pour.trouble is not None
    assert (pour.trouble.reason, pour.trouble.lifted) == ("unit", True)


@pytest.mark.parametrize("back_g", [56.1, 61, 64, 65, 67, 68, 70])
def test_a_cup_that_comes_back_otherwise_is_noticed_though_its_unit_was_changed_meanwhile(
    back_g: float,
) -> None:
    """Lifted out of the hardener's stream, some spilled or put in, and back: never in band."""
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    now = hold_at(guide, 0, ramp(guide, 56.1, 66, now, 3), 2)
    for i in range(10):
        other = Reading(0, "0.000 oz", "oz", 28_350, True, at_s=now + i / 10)
        guide.take(Weighed(other))
    now = hold_at(guide, back_g, hold_at(guide, 0, now + 1, 3), 6)
    now = hold_at(guide, 72, ramp(guide, back_g, 72, now, 4), 10)
    press(guide, now, "go")
    hold_at(guide, 72, now, 6)
    assert {"doubted", "lost", "gained"} & {fact.kind for fact in guide.facts}
    assert guide.pour.result is None or guide.pour.result.verdict == "unproven"


# -- what is gone, and was seen to go ----------------------------------------------------------


def hardener_runs(to_g: float) -> tuple[Guide, float]:
    """6 g/s of hardener upon 44.1 g of resin, up to this weight; the pour and the time."""
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    now = hold_at(guide, 56.1, now, 3)
    return guide, ramp(guide, 56.1, to_g, now, (to_g - 56.1) / 6)


@pytest.mark.parametrize("gone_g", [3.0, 8.0])
@pytest.mark.parametrize("lifted", [True, False])
def test_what_is_seen_to_go_in_the_stream_is_not_made_up_for_by_it(
    gone_g: float, lifted: bool
) -> None:
    guide, now = hardener_runs(66.1)
    now = ramp(guide, 66.1, 66.1 - gone_g, now, 0.3)
    now = hold_at(guide, 66.1, ramp(guide, 66.1 - gone_g, 66.1, now, gone_g / 6), 5)
    if lifted:
        now = hold_at(guide, 66.1, hold_at(guide, 0, now, 3), 5)
    now = hold_at(guide, 72.0, ramp(guide, 66.1, 72.0, now, 2), 12)
    assert SPILLED in guide.pour.doubts


@pytest.mark.parametrize("for_s", [0.2, 1.0])
@pytest.mark.parametrize("pressed_g", [2.0, 20.0])
def test_a_hand_that_was_on_the_cup_for_a_moment_is_no_loss(pressed_g: float, for_s: float) -> None:
    guide, now = hardener_runs(62)
    now = ramp(guide, 62 + pressed_g, 62 + pressed_g + for_s, now, for_s)
    hold_at(guide, 66.4, ramp(guide, 62 + for_s, 66.4, now, 0.6), 4)
    assert guide.pour.trouble is None
    assert guide.pour.doubts == ()


def test_resin_that_is_seen_to_go_in_its_stream_is_weighed_anew() -> None:
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = ramp(guide, 33, 40, ramp(guide, 12, 36, now, 4), 1)
    hold_at(guide, 56.1, ramp(guide, 40, 56.1, now, 3), 5)
    assert guide.pour.doubts == ()


@pytest.mark.parametrize(("back_g", "less"), [(66.9, False), (65.4, True), (64.0, True)])
def test_a_cup_is_heavier_than_was_shown_as_it_was_lifted_out_of_a_stream(
    back_g: float, less: bool
) -> None:
    """6 g/s upon a display that is 0.3 s late: about 2 g were still to be shown."""
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 0, 0, 2)
    for shown_g in (4, 8, 10.5, 11.5):  # as such a display shows a cup that is put down
        guide.take(weighed(shown_g, now, still=False))
        now += 0.1
    now = hold_at(guide, 56.1, ramp(guide, 12, 56.1, hold_at(guide, 12, now, 3), 5), 9)
    press(guide, now, "go")
    now = ramp(guide, 56.1, 65.1, hold_at(guide, 56.1, now, 3), 1.5)
    now = hold_at(guide, 0, ramp(guide, 30, 0, now, 0.4), 3)
    hold_at(guide, back_g, ramp(guide, 30, back_g, now, 0.3), 4)
    assert guide.pour.trouble is None
    assert any("came back lighter" in why for why in guide.pour.doubts) is less
