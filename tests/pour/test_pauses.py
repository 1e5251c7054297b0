"""A long pause with hardener in, and a scale that is restless: said, put down once, no doubt."""

from __future__ import annotations

from support.pouring import Guide, hold_at, press, ramp, tared_and_resin, weighed

from mixer.pour.facts import PAUSED, RESTLESS, Waited
from mixer.pour.inputs import Tick
from mixer.pour.state import fold


def slowly(guide: Guide, mass_g: float, from_s: float, for_s: float) -> float:
    """Readings at rest, two a second."""
    for i in range(round(for_s * 2)):
        guide.take(weighed(mass_g, from_s + i / 2))
        guide.take(Tick(from_s + i / 2))
    return from_s + for_s


def waited(guide: Guide) -> list[Waited]:
    return [fact for fact in guide.facts if isinstance(fact, Waited)]


def test_ten_minutes_with_hardener_in_are_said_and_put_down_once() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    now = slowly(guide, 62, ramp(guide, 56.1, 62, now + 1, 3), 590)
    assert not waited(guide)
    assert "pot life" not in guide.say
    now = slowly(guide, 62, now, 100)
    (fact,) = waited(guide)
    assert (fact.why, fact.component) == (PAUSED, 1)
    assert 600_000 <= fact.for_ms <= 602_000
    assert guide.say.endswith(
        "Hardener has been in for 11 min and its pot life runs: go on, or drop it."
    )
    assert fold(guide.facts) == guide.pour
    now = ramp(guide, 62, 66, now, 3)
    assert "pot life" not in guide.say
    now = slowly(guide, 66, now, 610)  # another pause
    assert len(waited(guide)) == 2
    now = hold_at(guide, 72, ramp(guide, 66, 72, now, 4), 10)
    press(guide, now, "go")
    hold_at(guide, 72, now, 6)
    assert guide.pour.result is not None
    assert guide.pour.result.verdict == "in-band"


def test_a_pause_with_resin_alone_is_none() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    slowly(guide, 56.1, now, 700)
    assert not waited(guide)


def test_a_draught_is_put_down_once_for_each_that_is_called() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    now = hold_at(guide, 71.9, ramp(guide, 56.1, 71.9, now, 4), 3)
    assert guide.cue == "in-band"
    said: set[str] = set()
    for i in range(400):
        guide.take(weighed(71.9 + 0.2 * (i % 3 - 1), now + i / 10, still=False))
        guide.take(Tick(now + i / 10))
        said.add(guide.say)
    assert any(say.startswith("The scale does not come to rest") for say in said)
    (fact,) = waited(guide)
    assert (fact.why, fact.component) == (RESTLESS, 1)
    assert guide.pour.unproven_because is None
    assert fold(guide.facts) == guide.pour
