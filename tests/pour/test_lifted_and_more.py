"""A cup that was lifted, and another trouble upon that."""

import pytest
from support.pouring import hold_at, press, ramp, tared_and_resin

from devices.readings import Reading
from mixer.pour.facts import Held
from mixer.pour.inputs import Weighed
from mixer.pour.state import evolve


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
