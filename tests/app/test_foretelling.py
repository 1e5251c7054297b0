"""What is asked of a cup's life: of the record alone, and once of the same."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import START, fact

from mixer.app.files.profiles import load_resin, names
from mixer.app.life.cup_life import AWAITED, standing
from mixer.app.life.foretelling import ANEW_S, NO_POT_LIFE, Question, answer, by_rule, question
from mixer.app.life.life import Asked, label_of
from mixer.app.life.life import answer as life
from mixer.app.life.thickenings import sooner
from mixer.app.life.use_up import POUR_S, USEFUL_S, before, cap_ug, lasts
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.record.views import BatchRow, Moment, fold
from mixer.science.heat import Course
from mixer.science.largest import lasting_g
from mixer.science.pot_life import MASS_G, fit, follow
from mixer.science.warming import warming

CONTACT = Moment(f"{START:%Y-%m-%dT%H:%M:%S}.000Z", 0, "boot-1")


def row(resin: str = "sample-36", **said: Any) -> BatchRow:
    order = resolve(Request(resin, "80g", "sim:", **said))
    return BatchRow(1, {**order.about, "size_ug": order.terms.size_ug})


def asked(of: BatchRow, mass_g: float = 80) -> Question:
    found = question(of, CONTACT, round(mass_g * 1e6))
    assert isinstance(found, Question)
    return found


def weighed(of: BatchRow, *amounts_g: float, resin: str = "sample-36") -> BatchRow:
    recipe = json.loads(json.dumps(asdict(load_resin(resin).recipe())))
    amounts_ug = {index: round(mass_g * 1e6) for index, mass_g in enumerate(amounts_g)}
    return replace(of, opened={**of.opened, "recipe": recipe}, amounts_ug=amounts_ug)


@pytest.mark.parametrize("mass_g", [10, 300, 900])
@pytest.mark.parametrize("share", [0.05, 0.96, 2.1])
def test_of_a_cup_off_its_ratio_no_time_is_told_and_no_warning_is_later(
    mass_g: float, share: float
) -> None:
    of, quicker = row(air="24 degC"), max(1.0, share)
    resin_g = mass_g / (1 + 0.36 * share)
    found = question(weighed(of, resin_g, mass_g - resin_g), CONTACT)
    assert isinstance(found, Question)
    ((name, off),) = found.off
    assert (name, off) == ("hardener", pytest.approx(share - 1, abs=1e-5))
    right, told = answer(asked(of, mass_g)), answer(found)
    assert told["why"].endswith("and its label's time is for its ratio")
    assert told.keys().isdisjoint(["model_s", "working_s", "low_s", "high_s", "peak_c", "gel_s"])
    at_right = {"rule_low_s": right.get("low_s") or right["rule_low_s"]}
    at_right |= {name: right[name] for name in ("warm_s", "hot_s")}
    for name, right_s in at_right.items():
        assert (told[name] is None) == (right_s is None)
        if right_s is not None:  # in whole seconds, each rounded down
            assert right_s / quicker - 1 <= told[name] <= (right_s + (share > 1)) / quicker
    stands = standing("cup 1", 0, told)
    assert (stands.working_s, stands.low_s, stands.high_s) == (None, None, None)
    assert stands.say.startswith("No time can be told for cup 1: it was weighed with")
    assert ("Spread it out" in stands.say) == (mass_g > MASS_G[1])
    assert " min" not in stands.say
    assert lasts(found, 60) == f"No time can be told for this cup: {told['why']}."
    plainly, as_right = by_rule(found, AWAITED), by_rule(asked(of, mass_g), "")
    assert plainly["why"] == told["why"]
    assert plainly["rule_low_s"] <= as_right["rule_low_s"] / quicker


def test_just_the_tolerance_is_within_it() -> None:
    for hardener_g in (92.7, 87.3):  # 3 % of 90 g
        assert weighed(row(air="24 degC"), 250, hardener_g).off == {}
    off = weighed(row(air="24 degC"), 250, 92.701).off
    assert off == {"hardener": pytest.approx(0.03, abs=1e-4)}


@pytest.mark.parametrize(
    ("resin", "amounts_g", "told", "excess"),
    [
        ("sample-blend", (60, 21.6, 0), "50.0 % too much fast", 0.5),
        ("sample-blend", (60, 21.6), "50.0 % too much fast", 0.5),  # of the other none was taken
        ("sample-blend", (60, 0, 21.6), "200.0 % too much slow", 2.0),
        ("sample-blend", (60, 18, 3.6), "25.0 % too much fast", 0.25),
        ("sample-blend", (60, 22.8, 0), "5.6 % too much hardener", 19 / 12 - 1),
        ("sample-tinted", (60, 3.6, 21.6), "50.0 % too much pigment", 0.5),
        ("sample-tinted", (60, 0, 21.6), "100.0 % too little pigment", 0.0),
        ("sample-tinted", (60, 3.6, 10.8), "50.0 % too little hardener", 0.5),
    ],
)
def test_of_a_cup_with_one_component_off_its_own_share_no_time_is_told_and_no_warning_is_later(
    resin: str, amounts_g: tuple[float, ...], told: str, excess: float
) -> None:
    of = row(resin, air="24 degC")
    found = question(weighed(of, *amounts_g, resin=resin), CONTACT)
    assert isinstance(found, Question)
    right, off = answer(asked(of, sum(amounts_g))), answer(found)
    assert off["why"] == f"it was weighed with {told}, and its label's time is for its ratio"
    assert off.keys().isdisjoint(["model_s", "working_s", "low_s", "high_s", "peak_c", "gel_s"])
    for name, at_s in (("rule_low_s", right["low_s"]), ("warm_s", right["warm_s"])):
        # Without its pigment, 4 parts of 140, it is a little sooner.
        least_s = at_s * (0.96 if found.richer > 1 else 1)
        assert least_s / (1 + excess) - 1 <= off[name] <= at_s / (1 + excess) + 1
    assert found.is_answered_by(json.loads(json.dumps(off)))


FILLED = """
source = "invented: no maker's product"
about = "A filled system, 100 : 36 : 150 by weight."
[[component]]
name = "resin"
role = "resin"
parts = 100
eew = 190
density = "1.15 g/mL"
drip_time = "8 s"
[[component]]
name = "hardener"
role = "hardener"
parts = 36
ahew = 68.4
density = "1.15 g/mL"
drip_time = "8 s"
[[component]]
name = "powder"
role = "additive"
parts = 150
tolerance = "10 %"
density = "1.15 g/mL"
drip_time = "8 s"
[band]
ratio = "3 %"
[stir]
time = "120 s"
[pot_life]
mass = "100 g"
temperature = "25 degC"
time = "60 min"
ends = "usable"
"""


@pytest.fixture
def filled(tmp_path: Path) -> str:
    """A resin of ours, most of which is powder that goes in last."""
    path = tmp_path / "filled.toml"
    path.write_text(FILLED, encoding="utf-8")
    return str(path)


def without_powder(resin: str, mass_g: float, air_c: float) -> tuple[Course, list[float]]:
    """So much resin and hardener alone, and when it has become as hot as is warned of: the same
    reaction, with all of its heat in each gram."""
    label = label_of(load_resin(resin))
    system = fit(label)
    neat = replace(system, heat_j_g=system.heat_j_g * 286 / 136)
    course = follow(neat, label, mass_g, air_c, air_c)
    return course, [t for t in warming(neat.cure.rate_per_s, course) if t is not None]


@pytest.mark.parametrize("mass_g", [20, 60, 200])
@pytest.mark.parametrize("air_c", [18, 25])
def test_a_cup_without_its_powder_is_warned_of_by_the_heat_that_is_in_it(
    filled: str, mass_g: float, air_c: float
) -> None:
    amounts_g = (mass_g * 100 / 136, mass_g * 36 / 136)
    of = row(filled, air=f"{air_c} degC")
    found = question(weighed(of, *amounts_g, resin=filled), CONTACT)
    assert isinstance(found, Question)
    assert found.off == (("powder", -1.0),)
    told, plainly = answer(found), by_rule(found, AWAITED)
    course, heat_s = without_powder(filled, mass_g, air_c)
    assert told["rule_low_s"] <= course.reached_s[0]
    assert not course.runaway or len(heat_s) == 2
    for name, at_s in zip(("warm_s", "hot_s"), heat_s, strict=False):
        assert told[name] <= at_s
    for name in ("rule_low_s", "warm_s", "hot_s"):
        assert plainly[name] <= by_rule(asked(of, mass_g), "")[name]
    assert found.is_answered_by(json.loads(json.dumps(told)))
    as_much = asked(of, mass_g * 286 / 136)  # with it, as much epoxy is in the cup
    assert plainly["rule_low_s"] == by_rule(as_much, "")["rule_low_s"]


@pytest.mark.parametrize("mass_g", [100, 400])
def test_until_the_powder_is_in_a_cup_is_warned_of_as_one_without_it(
    filled: str, mass_g: float
) -> None:
    of = weighed(row(filled, air="25 degC"), resin=filled)
    found = before(asked(of, mass_g), 120)
    course, heat_s = without_powder(filled, mass_g * 136 / 286, 25)
    assert found.told["low_s"] <= course.reached_s[0]
    for name, at_s in zip(("warm_s", "hot_s"), heat_s, strict=False):
        assert found.told[name] <= at_s
    lasts_s = answer(asked(of, mass_g))["low_s"]
    assert f"{int(lasts_s // 60)} to " in found.say  # with it, it lasts as long as it did


@pytest.mark.parametrize("parts", [None, "150", -150, 10**400, float("nan")])
def test_a_recipe_that_tells_no_parts_makes_a_cup_no_richer(filled: str, parts: Any) -> None:
    of = weighed(row(filled, air="25 degC"), 30, 10.8, resin=filled)
    assert (of.richer, of.bare) == (pytest.approx(286 / 136), pytest.approx(136 / 286))
    for one in of.opened["recipe"]["components"]:
        one["parts"] = parts
    assert of.richer == of.bare == 1
    assert replace(of, opened={}).richer == replace(of, amounts_ug={}).bare == 1


def test_one_of_several_hardeners_is_off_by_its_own_tolerance_else_by_that_of_the_split() -> None:
    right = weighed(row("sample-blend"), 100, 25.5, 10.5, resin="sample-blend")  # 6 %, 12.5 %
    assert right.off == {}
    right.opened["recipe"]["components"][1]["tolerance"] = 0.05
    assert right.off == {"fast": pytest.approx(0.0625)}
    right.opened["recipe"]["split_tolerance"] = 0.1
    assert list(right.off) == ["fast", "slow"]  # too much goes first


def test_of_an_older_record_that_says_no_tolerance_nothing_is_said() -> None:
    blend = weighed(row("sample-blend"), 100, 36, 0, resin="sample-blend")
    del blend.opened["recipe"]["split_tolerance"]
    tinted = weighed(row("sample-tinted"), 100, 9, 36, resin="sample-tinted")
    del tinted.opened["recipe"]["components"][1]["tolerance"]
    for of in (blend, tinted):
        assert of.off == {}
        of.opened["recipe"]["ratio_tolerance"] = None
        assert of.off == {}


def test_within_its_tolerance_a_cup_keeps_its_time() -> None:
    of = row(air="24 degC")
    for hardener_g in (58.8 * 0.36 * 0.971, 58.8 * 0.36 * 1.029):
        found = question(weighed(of, 58.8, hardener_g), CONTACT)
        assert isinstance(found, Question)
        assert answer(found)["why"] is None
    unknown = question(replace(weighed(of, 60, 0), amounts_ug={0: 60_000_000}), CONTACT)
    assert isinstance(unknown, Question)
    assert unknown.off == ()


def test_a_cup_beyond_the_model_is_warned_of_no_later_than_the_largest_that_was_checked() -> None:
    one = asked(row(air="24 degC"), 200)
    largest, huge = (answer(replace(one, cup_ml=cup_ml)) for cup_ml in (10_000, 100_000))
    assert largest["why"] is None
    assert huge["why"] == "the model was checked for 5 to 10000 mL of a cup"
    assert 0 < huge["rule_low_s"] <= largest["low_s"]
    share = replace(one, shared=((60.0, 40_000_000, 100_000.0),))
    assert answer(share)["why"] == huge["why"]


@pytest.mark.parametrize("resin", names("resins"))
def test_it_is_what_the_command_says_of_the_same(resin: str) -> None:
    told = answer(asked(row(resin, air="22 degC", resin_temp="24 degC", cup="paper-150"), 70))
    said = life(Asked(resin, "70g", "22 degC", "24 degC", "paper-150"))
    assert round(told["working_s"] / 60, 1) == pytest.approx(said["working_min"], abs=0.1)
    assert [told["low_s"] / 60, told["high_s"] / 60] == pytest.approx(said["range_min"], abs=0.1)
    assert (told["peak_c"], told["runaway"]) == (said["peak_c"], said["runaway"])


def test_what_was_answered_is_known_again_after_it_was_stored() -> None:
    one = asked(row(air="24 degC", cup="paper-150"))
    stored = json.loads(json.dumps(answer(one)))
    assert one.is_answered_by(stored)
    for other in (
        replace(one, mass_ug=one.mass_ug + 1),
        replace(one, air=((0.0, 25.0),)),
        replace(one, cup_ml=None),
        replace(one, start_c=25.0),
        replace(one, off=(("hardener", -0.5),)),
        replace(one, off=(("fast", 0.5),)),
    ):
        assert not other.is_answered_by(stored)
        assert not one.is_answered_by(json.loads(json.dumps(answer(other))))


def test_where_nobody_said_how_warm_it_is_the_labels_is_taken_and_said() -> None:
    one = asked(row())
    assert (one.air, one.start_c, one.assumed) == (((0.0, 25.0),), 25.0, True)
    assert "Nobody said how warm the room is: taken for 25 degC." in lasts(one, 120)


@pytest.mark.parametrize(("resin_c", "room_c"), [(10, 25), (16, 25), (25, 25), (30, 30)])
def test_a_room_of_which_nobody_said_how_warm_it_is_is_no_colder_than_the_label_nor_the_resin(
    resin_c: float, room_c: float
) -> None:
    one = asked(row(resin_temp=f"{resin_c} degC"))
    assert (one.air, one.start_c, one.assumed) == (((0.0, room_c),), resin_c, True)
    told, unsaid = answer(one), f"Nobody said how warm the room is: taken for {room_c} degC."
    assert unsaid in lasts(one, 120)
    said = standing("cup 1", 0, told).say
    if resin_c == 10:  # farther apart than was checked: the plain rule
        assert "within 10 degC of the room" in told["why"]
        assert 0 < told["rule_low_s"] <= answer(asked(row(resin_temp="15 degC")))["low_s"]
        assert unsaid in said
    else:
        assert f"in a room taken for {room_c} degC, as nobody said" in said
        air, start = (None, f"{resin_c} degC") if resin_c <= 25 else (f"{room_c} degC", None)
        by_command = life(Asked("sample-36", "80g", air, start))
        assert told["low_s"] / 60 == pytest.approx(by_command["range_min"][0], abs=0.1)


def measured(of: BatchRow, *said: tuple[float, float], boot: str = "boot-1") -> BatchRow:
    for at_s, air_c in said:
        of = fold(of, fact("measured", at_ms=round(at_s * 1000), boot=boot, air_c=air_c, text=""))
    return of


def test_between_two_measurements_the_warmer_one_holds() -> None:
    of = measured(row(air="20 degC"), (300, 26), (900, 22), (1200, 22))
    assert asked(of).air == ((0.0, 26.0), (900.0, 22.0))


def test_what_is_said_anew_at_once_puts_a_slip_right() -> None:
    of = measured(row(air="20 degC"), (300, 42), (360, 21), (900, 21))
    assert asked(of).air == ((0.0, 21.0),)


def test_what_is_said_once_a_minute_does_not_undo_all_that_was_said() -> None:
    hot = [(60.0 * i, 36) for i in range(1, 17)]
    air = asked(measured(row(air="14 degC"), *hot, (17 * 60.0, 14))).air
    assert air[0] == (0.0, 36.0)
    assert air[-1] == (17 * 60.0, 14.0)


def test_what_another_boot_said_is_no_slip_whatever_utc_tells() -> None:
    of = measured(row(air="20 degC"), (600, 35))
    of = measured(of, (660, 12), boot="boot-2")  # by UTC a minute later
    assert asked(of).air == ((0.0, 35.0), (660.0, 12.0))


@pytest.mark.parametrize("by_utc_s", [1126, 40, -4000])
def test_a_temperature_is_as_late_as_the_cup_was_old(by_utc_s: int) -> None:
    """The age clock of some systems stands still in their sleep, and UTC may be set back."""
    of = row(air="35 degC")
    utc = (START + timedelta(seconds=by_utc_s)).isoformat(timespec="milliseconds")
    said = replace(
        fact("measured", at_ms=46_000, air_c=12.0, text=""), utc=utc.replace("+00:00", "Z")
    )
    assert asked(fold(of, said)).air == ((0.0, 35.0), (max(46.0, by_utc_s), 12.0))


def test_a_room_that_was_beyond_the_model_and_is_so_no_more_has_a_time_again() -> None:
    hot = measured(row(air="24 degC"), (200, 41))
    told, later = answer(asked(hot)), answer(asked(measured(hot, (1200, 24))))
    assert told["why"] == "the model was checked for 10 to 40 degC"
    assert later["why"] is None
    assert later["low_s"] < answer(asked(row(air="24 degC")))["low_s"]


@pytest.mark.parametrize(
    ("mass_g", "said"),
    [
        (80, {"air": "41 degC"}),
        (600, {"air": "25 degC"}),
        (80, {"air": "22 C", "resin_temp": "33 C"}),
    ],
)
def test_a_figure_may_be_withheld_and_a_warning_may_not(
    mass_g: float, said: dict[str, str]
) -> None:
    told = answer(asked(row(**said), mass_g))
    assert told["why"].startswith("the model was checked for")
    near = answer(asked(row(air="25 degC"), 80))
    assert 0 < told["rule_low_s"] < near["low_s"]
    assert told["warm_s"] <= told["hot_s"] < near["low_s"]
    marks = [cue.mark for cue in standing("cup 1", near["low_s"], told).cues]
    assert sorted(marks) == sorted(["half", "late", "over", "warm", "hot"])


def test_a_label_beyond_the_model_warns_by_its_own_time() -> None:
    of = row(air="25 degC")
    of.opened["profile"]["resin"]["pot_life"]["time"] = "6 min"
    told = answer(asked(of, 100))
    assert told["why"] == "the model was checked for 8 to 240 min on the label"
    assert 180 < told["rule_low_s"] <= 360 / 1.15
    assert told["hot_s"] < 360


@pytest.mark.parametrize(
    ("cold", "mass_g", "why"),
    [
        ("75 min", 100, "contradict each other"),
        ("75 min", 600, "contradict each other"),  # of no mass anything could be told
        ("55 min", 100, "times as fast when 10 degC"),
        ("55 min", 600, "checked for 5 to 500 g"),
    ],
)
def test_a_label_that_is_none_or_too_steep_is_warned_of_by_the_plain_rule(
    cold: str, mass_g: float, why: str
) -> None:
    of = row(air="25 degC")
    second = {"mass": "100 g", "temperature": "20 degC", "time": cold}
    of.opened["profile"]["resin"]["pot_life"]["second"] = second
    told = answer(asked(of, mass_g))
    assert why in told["why"]
    assert "low_s" not in told
    assert 0 < told["rule_low_s"] <= 25 * 60 / 1.15
    assert told["hot_s"] < 25 * 60


def test_a_temperature_that_was_only_assumed_does_not_hold_beside_a_measured_one() -> None:
    one = asked(measured(row(), (300, 18)))
    assert (one.air, one.assumed) == (((0.0, 18.0),), False)


def test_after_another_boot_it_is_placed_by_utc() -> None:
    of = measured(row(air="20 degC"), (600, 18), boot="boot-2")
    assert asked(of).air == ((0.0, 20.0), (600.0, 18.0))


ROW = row()
times = st.lists(st.tuples(st.integers(-900, 4000), st.integers(-10, 60)), max_size=5)


@settings(max_examples=40)
@given(times, st.none() | st.integers(0, 40))
def test_the_room_is_never_taken_for_colder_than_it_was_measured(
    said: list[tuple[int, int]], base: int | None
) -> None:
    of = replace(ROW, opened={**ROW.opened, "air_c": base})
    said = list(dict(sorted(said)).items())  # of one second the last counts
    air = asked(measured(of, *said)).air
    assert air[0][0] == 0.0
    assert [since for since, _ in air] == sorted({since for since, _ in air})
    for (at_s, air_c), (again_s, _) in zip(said, [*said[1:], (9999, 0)], strict=False):
        if at_s >= 0 and again_s - at_s >= ANEW_S:
            before = [held for since, held in air if since < max(at_s, 1)]
            now = [held for since, held in air if since <= at_s]
            assert max(before[-1], now[-1]) >= air_c


def test_no_pot_life_and_what_cannot_be_read_are_said() -> None:
    of = row()
    del of.opened["profile"]["resin"]["pot_life"]
    assert question(of, None, 1) == NO_POT_LIFE
    for profile in (None, {}, {"resin": {"name": "x"}}, {"resin": 5}):
        of = BatchRow(1, {"profile": profile})
        assert question(of, None, 1) == "its profile in the record cannot be read"


@pytest.mark.parametrize(("mass_g", "air"), [(800, "24 degC"), (80, "5 degC"), (80, "45 degC")])
def test_outside_of_what_was_checked_there_is_a_sentence(mass_g: float, air: str) -> None:
    told = answer(asked(row(air=air), mass_g))
    assert told["why"].startswith("the model was checked for")
    assert "working_s" not in told
    assert lasts(asked(row(air=air), mass_g), 120).startswith("No time can be told for")


@settings(max_examples=6)
@given(st.integers(10, 400), st.integers(16, 36))
def test_what_is_said_of_the_size_holds(mass_g: int, air_c: int) -> None:
    one = asked(row("sample-28", air=f"{air_c} degC"), mass_g)
    told, said = answer(one), lasts(one, 120)
    assert said.startswith(f"{mass_g} g should last")
    assert ("run hot" in said or "runs hot" in said) == told["runaway"]
    assert ("10 min after the stir" in said) == (told["low_s"] < 120 + POUR_S + USEFUL_S)
    for part in said.rstrip(".").split("; "):
        if part.startswith("up to ") and part.endswith("should not run hot"):
            most_g = int(part.split()[2])
            assert MASS_G[0] <= most_g < mass_g
            assert not answer(replace(one, mass_ug=most_g * 1_000_000))["runaway"]


@pytest.mark.parametrize("air", ["15 degC", "33 degC"])
@pytest.mark.parametrize("resin", ["sample-28", "sample-36"])
def test_an_addition_up_to_its_cap_is_foretold_as_what_was_asked_for(resin: str, air: str) -> None:
    """The verdict and what leaves ten minutes after the stir are other judges than the search."""
    found: list[int] = []
    for mass_g in (15, 60):
        of = row(resin, air=air)
        one = asked(of, mass_g)
        most_ug = cap_ug(one, 120)
        if most_ug is None:
            continue
        found.append(most_ug)
        assert most_ug >= one.mass_ug
        told, then = answer(one), answer(asked(of, most_ug / 1e6))
        assert then["runaway"] <= told["runaway"]
        useful_s = 120 + POUR_S + USEFUL_S
        assert then["working_s"] >= 0.98 * useful_s or told["working_s"] < useful_s
    assert found == sorted(found)


def test_where_nothing_may_be_told_no_cap_is() -> None:
    assert before(asked(row(air="41 degC")), 120).cap_ug is None


def test_what_other_cups_taught_is_told_before_the_pour_too() -> None:
    one, seen = asked(row(air="30 degC"), 60), (0.5,) * 5
    usual, taught = before(one, 120), before(one, 120, seen)
    part = sooner(seen)
    for name in ("low_s", "working_s", "high_s", "hot_s"):
        assert taught.told[name] == int(usual.told[name] * part)
    low, high = taught.told["low_s"] // 60, -int(-taught.told["high_s"] // 60)
    assert taught.say.startswith(
        f"60 g should last {low} to {high} min from the hardener on, as cups of it were said to "
        "thicken sooner (5 in the record)"
    )
    assert "were said to thicken" not in usual.say
    wanted_min = (120 + POUR_S + USEFUL_S) / part / 60
    most_g = lasting_g(one.label, wanted_min, 30, one.start_c, one.cup_ml, 60).least
    assert (f"up to {int(most_g)} g" if most_g else "nor would less") in taught.say
    late = before(one, 120, (1.3,) * 5)
    assert usual.told["low_s"] < late.told["low_s"] <= usual.told["working_s"]
