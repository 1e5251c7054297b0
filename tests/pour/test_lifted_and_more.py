"""A cup that was lifted, and another trouble upon that."""

from support.pouring import press, ramp, tared_and_resin

from mixer.pour.facts import Held
from mixer.pour.state import evolve


def test_another_trouble_does_not_hide_that_the_cup_was_lifted() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    ramp(guide, 56.1, 62, now, 3)
    pour = evolve(guide.pour, Held(1, "lifted", 60_000_000, ""))
    pour = evolve(pour, Held(2, "unit", 60_000_000, ""))
    assert pour.trouble is not None
    assert (pour.trouble.reason, pour.trouble.lifted) == ("unit", True)
