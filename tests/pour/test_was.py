"""What was poured in another's stage, and the builder says so."""

from __future__ import annotations

from support.pouring import HARDENER, RESIN, Guide, hold_at, press, ramp, tared_and_resin, terms

from mixer.pour.facts import Doubted
from mixer.pour.inputs import Key
from mixer.pour.state import fold


def say(guide: Guide, at_s: float, name: str) -> None:
    guide.take(Key(at_s, "was", name))


def test_resin_in_the_hardeners_stage_raises_what_is_asked_for_and_is_unproven() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    called, resin_ug = guide.pour.called, guide.pour.amounts_ug[0]
    assert called is not None
    now = hold_at(guide, 61.1, ramp(guide, 56.1, 61.1, now + 1, 3), 10)
    say(guide, now, "Resin")
    assert not guide.refusal
    assert "5.0 g is booked as resin" in guide.notice
    again = guide.pour.called
    assert again is not None
    assert again.component == 1
    assert guide.pour.amounts_ug == (resin_ug + 5_000_000, 0)
    assert abs(again.target_ug - called.target_ug - 5_000_000 * 0.36) < 200_000
    assert again.before_ug == 0
    assert guide.pour.unproven_because is not None
    assert fold(guide.facts) == guide.pour


def test_hardener_in_the_resins_stage_starts_its_clock_when_it_was_poured() -> None:
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    poured_s = now
    now = hold_at(guide, 22, ramp(guide, 12, 22, poured_s, 5), 10)
    say(guide, now, HARDENER.name)
    assert guide.pour.amounts_ug == (0, 10_000_000), guide.refusal
    assert guide.pour.contact_ms is not None
    assert guide.pour.contact_ms <= (poured_s + 1.5) * 1000
    assert guide.pour.called is not None
    assert guide.pour.called.component == 0
    assert any(isinstance(fact, Doubted) for fact in guide.facts)
    assert fold(guide.facts) == guide.pour


def test_it_is_refused_where_nothing_is_to_be_put_right() -> None:
    guide, now = tared_and_resin(False)
    press(guide, now, "go")
    for name, why in (("honey", "was resin"), (HARDENER.name, "what is asked for"),
                      (RESIN.name, "Nothing has come")):  # fmt: skip
        say(guide, now + 0.1, name)
        assert why in guide.refusal
    now = ramp(guide, 56.1, 61.1, now, 3)
    say(guide, now, RESIN.name)
    assert "not come to rest" in guide.refusal
    assert guide.pour.unproven_because is None


def test_a_loss_after_it_tares_no_cup_with_hardener_in_it() -> None:
    guide = Guide(terms(60, hands_free=False))
    now = hold_at(guide, 12, hold_at(guide, 0, 0, 2), 3)
    now = hold_at(guide, 32, ramp(guide, 12, 32, now, 6), 9)
    say(guide, now, HARDENER.name)
    hold_at(guide, 31.4, now, 5)
    assert guide.pour.tared is not None
    assert guide.pour.tared.tare_ug == 12_000_000
    assert guide.pour.amounts_ug == (0, 19_400_000)
    assert fold(guide.facts) == guide.pour
