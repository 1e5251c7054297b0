"""Ages across boots and clocks that were set: never younger than what is proven."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from mixer.app.life.ages import ClockWatch, Rebased, age_ms, since_ms
from mixer.record.views import Moment

START = datetime(2024, 5, 1, tzinfo=UTC)


def moment(true_s: float, boot: str, up_s: float, utc_off_s: float = 0.0) -> Moment:
    utc = START + timedelta(seconds=round(true_s, 3) + round(utc_off_s, 3))
    text = utc.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return Moment(text, round(up_s * 1000), boot)


# One boot: how long the computer was off before, how long after it each fact came, and how
# far its UTC is from the truth.
BOOTS = st.lists(
    st.tuples(
        st.floats(0, 1e5),
        st.lists(st.floats(0, 1e4), min_size=1, max_size=4),
        st.sampled_from([0.0, 0.0, -90_000.0, -5.0, 3600.0]),
    ),
    min_size=1,
    max_size=3,
)


@given(boots=BOOTS, off_s=st.floats(0, 1e5), up_s=st.floats(0, 1e4), same=st.booleans())
def test_ages_are_true_where_utc_is_and_never_too_young_for_what_is_proven(
    boots: list[tuple[float, list[float], float]], off_s: float, up_s: float, same: bool
) -> None:
    now_s, facts = 0.0, []
    at_s = 0.0
    for number, (before_s, waits, utc_off_s) in enumerate(boots):
        now_s, at_s = now_s + before_s, 0.0
        for wait_s in waits:
            now_s, at_s = now_s + wait_s, at_s + wait_s
            facts.append((now_s, moment(now_s, f"b{number}", at_s, utc_off_s)))
    if same:
        now_s += up_s
        now = moment(now_s, f"b{len(boots) - 1}", at_s + up_s, boots[-1][2])
    else:
        now_s += off_s + up_s
        now = moment(now_s, "now", up_s)
    rebased = Rebased([fact for _, fact in facts], now)
    ages = [now.at_ms - rebased.at_ms(fact.boot, fact.at_ms) for _, fact in facts]
    truth = [(now_s - true_s) * 1000 for true_s, _ in facts]
    assert ages == sorted(ages, reverse=True)  # what came first is the oldest
    assert all(age >= 0 for age in ages)
    if all(off == 0 for _, _, off in boots):
        assert all(abs(age - true) <= 10 for age, true in zip(ages, truth, strict=True))
        assert not rebased.set_back
    last_boot = f"b{len(boots) - 1}"
    for age, (_, fact) in zip(ages, facts, strict=True):
        if fact.boot == last_boot and not same:
            assert age >= facts[-1][1].at_ms - fact.at_ms + now.at_ms
        elif not same:  # all of the last boot came after it
            assert age >= facts[-1][1].at_ms + now.at_ms


def test_within_one_boot_the_age_clock_is_right_whatever_utc_does() -> None:
    opened, begun = moment(0, "b", 100), moment(60, "b", 160, utc_off_s=-90_000)
    now = moment(120, "b", 220, utc_off_s=7200)
    rebased = Rebased([opened, begun], now)
    assert rebased.at_ms("b", begun.at_ms) == begun.at_ms
    assert not rebased.set_back


def test_a_run_that_names_no_boot_of_the_computer_proves_nothing_by_its_uptime() -> None:
    """Without a boot's identity each run has its own name, though the computer ran on."""
    then, now = moment(0, "unknown-1", 864_000), moment(30, "unknown-2", 864_030)
    assert since_ms(then, now) == 30_000
    assert Rebased([then], now).since_last_ms == 30_000
    demo = moment(30, "simulated-b-2", 864_030)
    assert since_ms(moment(0, "simulated-b-1", 864_900), demo) == 30_000


def test_a_trace_shows_how_long_a_boot_ran_on_after_its_last_fact() -> None:
    then = moment(0, "b1", 100)
    now = moment(-3600, "b2", 20)
    rebased = Rebased([then], now, traced=("b1", 400_000))
    assert now.at_ms - rebased.at_ms("b1", then.at_ms) == 320_000
    assert rebased.since_last_ms == 20_000
    assert rebased.set_back


def test_a_live_cup_of_another_boot_is_no_younger_than_that_boot_proves() -> None:
    contact, now = moment(0, "b1", 100), moment(-3600, "b2", 20)
    later = [moment(150, "b1", 250)]
    assert age_ms(contact, later, now)[:2] == (170_000, True)


def test_each_boot_between_adds_what_it_proves() -> None:
    contact = moment(0, "b1", 100)
    later = [moment(3600, "b1", 3700), moment(3700, "b2", 50), moment(7250, "b2", 3600)]
    assert age_ms(contact, later, moment(-86_400, "b3", 30))[:2] == (
        (3600 + 100 + 3550 + 30) * 1000,
        True,
    )
    late = [moment(-9000, "b1", 3700), moment(-9000, "b2", 50), moment(-9000, "b2", 3600)]
    assert age_ms(contact, late, moment(-86_400, "b3", 30))[:2] == ((3600 + 3600 + 30) * 1000, True)
    true = moment(9000, "b3", 30)
    assert age_ms(contact, later, true)[:2] == (9_000_000, False)


def test_a_clock_that_tells_less_than_is_proven_was_set_back() -> None:
    contact, now = moment(0, "b1", 100), moment(120, "b2", 1800)
    assert age_ms(contact, [], now) == (1_800_000, True, True)


def test_small_corrections_of_a_time_server_are_not_said() -> None:
    watch = ClockWatch(moment(0, "b", 0))
    assert all(not watch.look(moment(t, "b", t, utc_off_s=t / 100)) for t in range(0, 5000, 100))
    assert "back by 80 s" in watch.look(moment(5000, "b", 5000, utc_off_s=-80))
