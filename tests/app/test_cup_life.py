"""Where a live cup stands: the earlier end warns, and what warned once stays said."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.life.cup_life import MARKS, UNKNOWN_S, standing
from mixer.science.plain_rule import HOT, WARM
from mixer.science.pot_life import LABEL_MINUTES

seconds = st.integers(60, 40_000)
maybe = st.none() | seconds


@st.composite
def foretold(draw: st.DrawFn) -> dict[str, Any]:
    low, working, high = sorted(draw(st.tuples(seconds, seconds, seconds)))
    warm, hot = draw(maybe), draw(maybe)
    if warm is not None and hot is not None:
        warm, hot = min(warm, hot), max(warm, hot)
    return {"low_s": low, "working_s": working, "high_s": high, "warm_s": warm, "hot_s": hot}


@given(foretold(), st.lists(st.floats(0, 28_000), min_size=2, max_size=6), maybe)
def test_what_was_said_of_a_cup_is_never_taken_back(
    told: dict[str, Any], ages: list[float], thick_s: int | None
) -> None:
    before: tuple[str, ...] = ()
    gravest = -1
    for age_s in sorted(ages):
        found = standing(
            "cup 1", age_s, told, None if thick_s is None or thick_s > age_s else thick_s
        )
        marks = tuple(cue.mark for cue in found.cues)
        assert set(before) <= set(marks)
        assert (MARKS.index(found.mark) if found.mark else -1) >= gravest
        assert all(cue.say.endswith(".") for cue in found.cues)
        assert found.say
        before, gravest = marks, MARKS.index(found.mark) if found.mark else -1


@given(foretold(), st.floats(0, 50_000))
def test_the_earlier_end_is_what_warns(told: dict[str, Any], age_s: float) -> None:
    marks = {cue.mark for cue in standing("cup 1", age_s, told).cues}
    assert ("half" in marks) == (age_s >= told["low_s"] * 0.5)
    assert ("late" in marks) == (age_s >= told["low_s"] * 0.8)
    assert ("over" in marks) == (age_s >= told["low_s"])
    for name in ("warm", "hot"):
        at_s = told[f"{name}_s"]
        assert (name in marks) == (at_s is not None and age_s >= at_s)


def test_a_hot_cup_is_graver_than_one_whose_time_is_over() -> None:
    told = {"low_s": 600, "high_s": 900, "working_s": 700, "warm_s": 500, "hot_s": 800}
    assert [standing("cup 3", age_s, told).mark for age_s in (550, 650, 850)] == [
        "warm",
        "warm",
        "hot",
    ]
    early, late = standing("cup 3", 550, told).say, standing("cup 3", 850, told).say
    assert "spread it, use it, or set it outside on something that does not burn" in early
    assert "do not lift it, do not breathe it; ventilate, and keep clear" in late


def test_once_it_thickens_its_time_is_not_counted_on() -> None:
    told = {"low_s": 1000, "high_s": 1500, "working_s": 1200, "warm_s": None, "hot_s": 1100}
    found = standing("cup 2", 1200, told, thick_s=700)
    assert [cue.mark for cue in found.cues] == ["half", "thick", "hot"]


@given(foretold(), seconds, seconds)
def test_its_working_time_ended_when_it_was_said_to_thicken_and_no_later(
    told: dict[str, Any], thick_s: int, age_s: int
) -> None:
    found = standing("cup 1", max(age_s, thick_s), told, thick_s)
    for name in ("low_s", "working_s", "high_s"):
        assert found.at_last(getattr(found, name)) == min(told[name], thick_s)
    assert found.at_last(None) is None
    before = standing("cup 1", age_s, told)
    assert before.at_last(before.high_s) == told["high_s"]


def test_what_thickens_before_the_plain_rule_has_its_end_is_warned_of_sooner_too() -> None:
    told = {"why": "it is large", "rule_low_s": 1000, "warm_s": 600, "hot_s": 1200}
    for age_s, marks in ((599, ["half", "thick", "warm"]), (600, ["half", "thick", "warm", "hot"])):
        assert [cue.mark for cue in standing("cup 1", age_s, told, 500).cues] == marks
    late = [cue.mark for cue in standing("cup 1", 1199, told, 1100).cues]
    assert late == ["half", "warm", "late", "over", "thick"]  # never later


@given(foretold(), seconds)
def test_what_thickens_before_its_time_is_warned_of_before_it_too(
    told: dict[str, Any], thick_s: int
) -> None:
    for name in ("warm", "hot"):
        plain_s, ratio = told[f"{name}_s"], thick_s / told["working_s"]
        if plain_s is None or plain_s <= thick_s:
            continue
        due_s = max(thick_s, plain_s * min(1.0, max(0.25, ratio)))
        if name == "warm" and ratio < 0.25:
            due_s = thick_s
        for age_s, there in ((due_s - 1, False), (due_s, True)):
            marks = [cue.mark for cue in standing("cup 1", age_s, told, thick_s).cues]
            assert (name in marks) == there


def test_what_thickens_before_a_quarter_of_its_time_is_warned_of_as_a_wrong_hardener() -> None:
    told = {"low_s": 1200, "working_s": 1500, "high_s": 1900, "warm_s": None, "hot_s": None}
    early, usual = (standing("cup 1", thick_s, told, thick_s) for thick_s in (300, 400))
    assert [cue.mark for cue in early.cues] == ["thick", "warm"]
    assert [cue.mark for cue in usual.cues] == ["thick"]
    assert "look at the hardener and its label" in early.cues[0].say
    assert "look at the hardener" not in usual.say


@pytest.mark.parametrize(
    ("told", "parts"),
    [
        ({"why": "its resin's profile has no pot life"}, ("no pot life", "data sheet")),
        (
            {"why": "the model was checked for 5 to 500 g", "label": [], "mass_ug": 800_000_000},
            ("5 to 500 g", "Common practice", "Spread it out"),
        ),
        (
            {"why": "the model was checked for 10 to 40 degC", "label": [], "mass_ug": 60_000_000},
            ("10 to 40 degC", "Common practice"),
        ),
    ],
)
def test_without_a_figure_it_is_said_why_and_the_plain_rule(
    told: dict[str, Any], parts: tuple[str, ...]
) -> None:
    found = standing("cup 1", 100_000, told)
    assert all(part in found.say for part in parts)
    assert (found.low_s, found.cues) == (None, ())
    assert ("Spread" in found.say) == ("Spread it out" in parts)


def test_what_nobody_can_foretell_is_warned_of_as_the_quickest_that_was_checked() -> None:
    quickest_s = 60 * LABEL_MINUTES[0]
    assert {"warm": WARM * quickest_s, "hot": pytest.approx(HOT * quickest_s)} == UNKNOWN_S


@given(
    st.dictionaries(
        st.sampled_from(["low_s", "high_s", "warm_s", "why", "air"]),
        st.none() | st.text(max_size=3) | st.booleans() | st.lists(st.integers(0, 3), max_size=2),
    )
)
def test_whatever_another_program_wrote_is_passed_over(told: dict[str, Any]) -> None:
    assert standing("cup 1", 5000, told).low_s is None
