"""The plant: nothing is lost, steps do not matter, and falling mass does not weigh."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from devices.sim.indicator import ScaleSettings
from devices.sim.plant import FAILURES, Plant
from devices.sim.stream import Jug

QUIET = ScaleSettings(repeatability_g=0.0)
CUP = {"do": "cup", "mass_g": 12.0}
JUGS = (Jug("resin", drip_g=0.6, drip_s=8.0), Jug("hardener", fall_s=0.2))

names = st.sampled_from(["resin", "hardener"])
masses = st.floats(0.01, 50)
actions = st.one_of(
    st.builds(lambda m: {"do": "cup", "mass_g": m}, masses),
    st.just({"do": "lift"}),
    st.just({"do": "return"}),
    st.builds(lambda j, r: {"do": "pour", "jug": j, "rate_g_s": r}, names, st.floats(0, 12)),
    st.builds(lambda j: {"do": "pour", "jug": j, "rate_g_s": 0}, names),
    st.builds(lambda j, m: {"do": "add", "jug": j, "mass_g": m}, names, masses),
    st.builds(lambda m: {"do": "remove", "mass_g": m}, masses),
    st.builds(lambda k: {"do": "press", "key": k}, st.sampled_from(["zero", "tare", "unit"])),
    st.builds(
        lambda h, s: {"do": "fail", "how": h, "for_s": s},
        st.sampled_from(FAILURES),
        st.floats(0.1, 3),
    ),
)


def try_to(plant: Plant, action: dict) -> None:
    try:
        plant.act(action)
    except ValueError as why:
        assert str(why)  # noqa: PT017 - what is impossible just now is said, not done


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(actions, st.integers(0, 300)), max_size=12), st.integers(0, 5))
def test_mass_is_never_lost(doings, seed):
    plant = Plant(JUGS, seed=seed)
    before_g = 0.0
    for action, hundredths in doings:
        try_to(plant, action)
        plant.step(hundredths / 100)
        now = plant.truth()
        there_g = sum(now["truth"].values()) + now["in_air_g"] + now["spilled_g"] + plant.taken_g
        assert there_g == pytest.approx(plant.left_the_jugs_g, abs=1e-9)
        assert plant.left_the_jugs_g >= before_g
        assert all(mass_g >= -1e-12 for mass_g in now["truth"].values())
        before_g = plant.left_the_jugs_g


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(actions, st.integers(1, 60)), max_size=10),
    st.lists(st.floats(0.001, 1.0), min_size=1, max_size=6),
)
def test_how_time_is_cut_into_steps_changes_nothing(doings, cuts):
    whole, cut = Plant(JUGS, seed=3), Plant(JUGS, seed=3)
    shown_whole, shown_cut = [], []
    for action, twentieths in doings:
        try_to(whole, action)
        try_to(cut, action)
        goes_s = twentieths / 20
        shown_whole += whole.step(goes_s)
        pieces = [goes_s * cut_ / sum(cuts) for cut_ in cuts]
        for piece_s in pieces:
            shown_cut += cut.step(piece_s)
    assert [d.at_s for d in shown_whole] == [d.at_s for d in shown_cut]
    assert all(abs(a.count - b.count) <= 1 for a, b in zip(shown_whole, shown_cut, strict=True))
    one, other = whole.truth(), cut.truth()
    assert one["truth"] == pytest.approx(other["truth"], abs=1e-9)
    assert one["spilled_g"] == pytest.approx(other["spilled_g"], abs=1e-9)


def test_a_finer_tick_gives_the_same_pour():
    masses_g = []
    for tick_s in (0.00125, 0.005):
        plant = Plant([Jug("resin", flutter=0.0)], QUIET, tick_s=tick_s)
        plant.act(CUP)
        plant.step(1.0)
        plant.act({"do": "pour", "jug": "resin", "rate_g_s": 8.0})
        plant.step(2.0)
        plant.act({"do": "pour", "jug": "resin", "rate_g_s": 0})
        plant.step(2.0)
        masses_g.append(plant.truth()["truth"]["resin"])
    assert masses_g[0] == pytest.approx(masses_g[1], abs=1e-6)


@pytest.mark.parametrize("filter_s", [0.15, 0.6])
@pytest.mark.parametrize("fall_s", [0.15, 0.2])
def test_a_steady_stream_shows_late_by_opening_fall_and_filters(filter_s, fall_s):
    # Source: linear systems; a ramp is late by the sum of all lags and delays.
    plant = Plant(
        [Jug("resin", flutter=0.0, fall_s=fall_s)],
        ScaleSettings(repeatability_g=0.0, filter_s=filter_s, division_g=0.001),
    )
    plant.act({"do": "cup", "mass_g": 10.0})
    plant.act({"do": "pour", "jug": "resin", "rate_g_s": 3.0})
    display = plant.step(20.0)[-1]
    late_s = 0.25 + fall_s + 2 * filter_s
    # Landing is rounded to a tick, 5 ms.
    assert display.value == pytest.approx(10 + 3.0 * (20 - late_s), abs=3.0 * 0.0051)


def test_what_falls_does_not_weigh_and_is_said_to_be_in_the_air():
    plant = Plant([Jug("resin", flutter=0.0, opening_s=0.0)], QUIET)
    plant.act(CUP)
    plant.act({"do": "pour", "jug": "resin", "rate_g_s": 4.0})
    plant.step(0.15)
    assert plant.truth()["truth"]["resin"] == 0.0
    assert plant.truth()["in_air_g"] == pytest.approx(0.6)
    plant.step(0.1)
    assert plant.truth()["truth"]["resin"] == pytest.approx(0.4)
    assert plant.truth()["in_air_g"] == pytest.approx(0.6)


def test_without_a_cup_a_stream_is_spilled_and_not_weighed():
    plant = Plant(scale=QUIET)
    plant.act({"do": "pour", "jug": "resin", "rate_g_s": 4.0})
    assert plant.step(3.0)[-1].figure == "0.0"
    assert plant.truth()["spilled_g"] > 10
    assert plant.truth()["truth"]["resin"] == 0.0


def test_a_cup_lifted_and_returned_keeps_what_is_in_it_and_a_new_cup_is_empty():
    plant = Plant(scale=QUIET)
    plant.act(CUP)
    plant.act({"do": "add", "jug": "resin", "mass_g": 40.0})
    plant.act({"do": "add", "jug": "hardener", "mass_g": 10.0})
    assert plant.step(4)[-1].figure == "62.0"
    plant.act({"do": "remove", "mass_g": 5.0})
    assert plant.truth()["truth"] == pytest.approx({"resin": 36.0, "hardener": 9.0})
    plant.act({"do": "lift"})
    assert plant.step(4)[-1].figure == "0.0"
    plant.act({"do": "return"})
    assert plant.step(4)[-1].figure == "57.0"
    plant.act({"do": "lift"})
    plant.act({"do": "cup", "mass_g": 11.0})
    assert plant.step(4)[-1].figure == "11.0"
    assert plant.truth()["truth"] == {"resin": 0.0, "hardener": 0.0}
    with pytest.raises(ValueError, match="no lifted cup"):
        plant.act({"do": "return"})


def test_a_scale_that_starts_again_takes_the_cup_for_zero():
    plant = Plant(scale=QUIET)
    plant.act(CUP)
    plant.step(3)
    plant.act({"do": "fail", "how": "restart", "for_s": 2.0})
    plant.step(1.9)
    assert plant.failure == "restart"
    before = plant.display
    plant.act({"do": "press", "key": "unit"})  # it is off
    assert plant.display is before
    shown = plant.step(1.2)
    assert plant.failure == ""
    assert (shown[-1].figure, shown[-1].unit) == ("0.0", "g")
    plant.act({"do": "add", "jug": "resin", "mass_g": 30.0})
    assert plant.step(3)[-1].figure == "30.0"
    plant.act({"do": "lift"})
    assert plant.step(3)[-1].figure == "-12.0"


@pytest.mark.parametrize("how", ["silent", "nonsense", "overload"])
def test_other_failures_pass_and_leave_the_zero_alone(how):
    plant = Plant(scale=QUIET)
    plant.act(CUP)
    plant.act({"do": "fail", "how": how, "for_s": 1.0})
    plant.step(0.9)
    assert plant.failure == how
    assert plant.step(3)[-1].figure == "12.0"
    assert plant.failure == ""


@pytest.mark.parametrize("readings_per_s", [4, 10, 20, 7.5])
def test_the_display_changes_at_its_own_rate(readings_per_s):
    plant = Plant(scale=ScaleSettings(readings_per_s=readings_per_s))
    times = [d.at_s for d in plant.step(40.0)]
    assert len(times) == math.floor(40 * readings_per_s)
    assert times == pytest.approx([(n + 1) / readings_per_s for n in range(len(times))], abs=0.0026)


def test_the_same_seed_gives_the_same_bench_and_another_does_not():
    def figures(seed: int) -> list[int]:
        plant = Plant(seed=seed)
        plant.act(CUP)
        plant.act({"do": "pour", "jug": "resin", "rate_g_s": 3.0})
        return [d.count for d in plant.step(10)]

    assert figures(1) == figures(1)
    assert figures(1) != figures(2)


@pytest.mark.parametrize(
    ("action", "says"),
    [
        ({}, "nothing to do"),
        ("lift", "nothing to do"),
        ({"do": "dance"}, "known are cup, lift"),
        ({"do": "cup"}, "needs mass_g"),
        ({"do": "cup", "mass_g": 0}, "above zero"),
        ({"do": "cup", "mass_g": "12"}, "must be a number"),
        ({"do": "cup", "mass_g": True}, "must be a number"),
        ({"do": "cup", "mass_g": float("nan")}, "must be a number"),
        ({"do": "cup", "mass_g": 12.0}, "a cup on the pan already"),
        ({"do": "lift", "how": "fast"}, "needs nothing more"),
        ({"do": "return"}, "no lifted cup"),
        ({"do": "pour", "jug": "micro", "rate_g_s": 1}, "there are resin, hardener"),
        ({"do": "pour", "jug": ["resin"], "rate_g_s": 1}, "there is no jug"),
        ({"do": "pour", "jug": "resin", "rate_g_s": -1}, "does not run back"),
        ({"do": "remove", "mass_g": 1}, "only 0.00 g"),
        ({"do": "press", "key": "go"}, "it has zero, tare, unit"),
        ({"do": "press", "key": ["go"]}, "it has zero, tare, unit"),
        ({"do": "fail", "how": "smoke", "for_s": 1}, "known are silent"),
        ({"do": "fail", "how": "silent", "for_s": 0}, "above zero"),
        ({"do": ["cup"]}, "nothing to do"),
    ],
)
def test_a_wrong_action_is_refused_and_changes_nothing(action, says):
    plant = Plant()
    plant.act(CUP)
    before = plant.truth()
    with pytest.raises(ValueError, match=says):
        plant.act(action)
    assert plant.truth() == before
    assert plant.failure == ""


def test_time_does_not_run_back_and_jugs_have_names_of_their_own():
    with pytest.raises(ValueError, match="does not run back"):
        Plant().step(-0.1)
    with pytest.raises(ValueError, match="own name"):
        Plant([Jug("a"), Jug("a")])
