"""Every kind of fact has its line; what is not known is told by its bare data."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, get_args

import pytest
from support.facts import OPENED, fact
from support.pouring import TWO, terms

from mixer.pour import facts
from mixer.pour.plain import to_plain
from mixer.record.envelope import Entry
from mixer.record.telling import LONGEST, tell

COMPONENTS: list[dict[str, Any]] = [{"name": c.name, "role": c.role} for c in TWO.components]
JUDGED = ("in-band", (44_100_000, 15_900_000), 36.0, 36.0544, None)
ABOUT = {"resin_system": "sample-36", "bench": "simulated"}
POUR: list[tuple[facts.Fact, str]] = [
    (
        facts.Opened(0, terms(60), ABOUT),
        "begun on a simulated bench: 60 g of sample-36 asked for",
    ),
    (
        facts.Tared(0, 12_300_000, 0, 100_000, "g", False, " 12.3 g"),
        "the empty cup weighs 12.3 g (the scale said “12.3 g”)",
    ),
    (
        facts.Called(0, 1, 56_400_000, 0, 15_900_000, 15_600_000, 16_200_000, False, False),
        "hardener asked for: 15.9 g (within 15.6 g to 16.2 g)",
    ),
    (
        facts.Called(0, 0, 56_400_000, 0, 15_900_000, 15_600_000, 16_200_000, True, False),
        "more resin asked for: 15.9 g (within 15.6 g to 16.2 g)",
    ),
    (facts.Jug(0, 1, 1), "the tag of the hardener's jug was read: the right one"),
    (
        facts.Jug(0, 0, 1, 56_400_000),
        "the tag of the resin's jug was read, where hardener is asked for: the wrong one",
    ),
    (facts.Begun(0, 1), "hardener begins to run into the cup"),
    (
        facts.Accepted(0, 0, 44_100_000, 56_400_000, "56.4 g"),
        "resin accepted: 44.1 g in all (the scale said “56.4 g”)",
    ),
    (
        facts.Lost(0, 56_400_000, 55_600_000, "55.6 g"),
        "0.8 g is gone from the cup (the scale said “55.6 g”)",
    ),
    (
        facts.Gained(0, 56_400_000, 57_200_000, "57.2 g"),
        "the cup came back with 0.8 g more (the scale said “57.2 g”)",
    ),
    (
        facts.Parting(0, 76_100_000, 120_000),
        "no room to put it right: to be stirred for 120 s, and a part taken out",
    ),
    (
        facts.Parted(0, 76_100_000, 66_100_000, (37_220_125, 16_879_875), "66.1 g"),
        "10 g of the stirred mix taken out (the scale said “66.1 g”); left are resin 37.22 g, "
        "hardener 16.88 g",
    ),
    (facts.Held(0, "lifted", 1, "Put the cup back."), "held (lifted): Put the cup back."),
    (
        facts.Resumed(0, "lifted", "continuous", 0),
        "goes on after a hold (lifted; continuous)",
    ),
    (facts.Doubted(0, "a gap"), "its weights cannot be shown to be right: a gap"),
    (facts.Kept(0), "used although it is out of band or without room, as the builder said"),
    (
        facts.Learned(0, 1, 612, 83_112),
        "learned of hardener, for later cues: the hand takes 0.61 s to stop it, 0.08 g drips "
        "after it",
    ),
    (facts.Noted(0, "warm"), "note: warm"),
    (facts.Stirring(0, 120_000), "everything is in the cup; to be stirred for 120 s"),
    (
        facts.Live(0, 2, *JUDGED),
        "live as cup 2: in-band, ratio 100 : 36.05 (target 100 : 36)",
    ),
    (facts.Weighing(0, 0), "the resin's jug is to be weighed"),
    (facts.Weighing(0, None), "the jug that was to be weighed is not"),
    (
        facts.JugWeight(0, 0, 1_244_000_000, "scale", " 1244.0 g"),
        "the resin's jug weighs 1244 g before (the scale said “1244.0 g”)",
    ),
    (
        facts.JugWeight(0, 1, 484_000_000, "typed", "", True, 16_000_000, 15_900_000),
        "the hardener's jug weighs 484 g after (typed in): 16 g left it, 15.9 g of it is in the "
        "cup",
    ),
    (facts.Splitting(0), "to be split into several cups once it is stirred"),
    (
        facts.Shared(0, 3, 2, 30_100_000, "scale", 5_000_000, 35_100_000, "35.1 g"),
        "a share of cup 2 is in cup 3: 30.1 g (the scale said “35.1 g”)",
    ),
    (
        facts.Shared(0, 4, 2, 9_000_000, "typed"),
        "a share of cup 2 is in cup 4: 9 g (typed in)",
    ),
    (facts.Shared(0, 5, 2), "a share of cup 2 is in cup 5: not weighed"),
    (
        facts.Filled(0, 3, "wet micro", 6_500_000, "scale", 4_812_345, 1, 2, "41.6 g"),
        "wet micro went into cup 3: 6.5 g (the scale said “41.6 g”); 4.81 g was advised to "
        "start with",
    ),
    (facts.Filled(0, 4, "flox"), "flox went into cup 4: not weighed"),
    (
        facts.Waited(0, "paused", 1, 600_000),
        "nothing was poured for 10.0 min with hardener in, hardener being asked for",
    ),
    (
        facts.Waited(0, "restless", 0, 12_000),
        "the weight did not come to rest for 12 s, resin being asked for",
    ),
    (facts.Capped(0, None), "no cap of heat and time holds for what puts a ratio right"),
    (
        facts.Capped(0, 23_147_005),
        "with what puts a ratio right, no more than 23.15 g: heat, and time",
    ),
    (facts.Moved(0), "all was scraped into a second, clean cup"),
    (facts.Moved(0, 2), "all that was in cup 2 was scraped into a second, clean cup"),
    (facts.Divided(0, "go"), "all is shared"),
    (facts.Divided(0, "interrupted"), "the sharing was cut short"),
    (
        facts.Ended(0, "dropped", "unproven", (0, 0), 36.0, None, "a gap"),
        "ended without a live cup (dropped): unproven (target 100 : 36); a gap",
    ),
]


@pytest.mark.parametrize(("known", "line"), POUR, ids=lambda value: getattr(value, "kind", ""))
def test_a_fact_of_a_pour(known: facts.Fact, line: str) -> None:
    assert tell(fact(known.kind, **to_plain(known)), COMPONENTS) == line


def test_no_kind_of_a_pour_is_forgotten() -> None:
    assert {known.kind for known, _ in POUR} == {made.kind for made in get_args(facts.Fact)}


@pytest.mark.parametrize(
    ("said", "line"),
    [
        (fact("closed", how="discard", left_ug=None), "cup closed (discard)"),
        (fact("closed", how="left", left_ug=9_100_000), "cup closed (left: 9.1 g)"),
        (fact("closed", how="used-up", left_ug=None, cup=3), "cup 3 closed (used-up)"),
        (
            fact("emptied", how="left", left_ug=2_000_000, cup=2),
            "cup 2 closed (left: 2 g); others of this batch are live",
        ),
        (
            fact("noted", text="a soft spot", reason="found by tapping"),
            "note: a soft spot, added later because found by tapping",
        ),
        (
            fact("traced", readings=412, hash="ab" * 32),
            f"412 weights are kept as its trace, sealed by {'ab' * 32}",
        ),
        (fact("closed", how=3), 'closed {"how": 3}'),
        (fact("begun", component=7), "component 8 begins to run into the cup"),
    ],
)
def test_a_fact_beside_a_pour(said: Entry, line: str) -> None:
    assert tell(said, COMPONENTS) == line


def test_much_bare_data_is_cut() -> None:
    line = tell(replace(fact("sung", song="la" * 5_000)), [])
    assert line.startswith('sung {"song": "lala')
    assert len(line) < LONGEST + 10


def test_what_was_reckoned_is_told_as_a_person_would() -> None:
    called = facts.Called(0, 0, 0, 0, 58_823_529, 27_713_470, 3_667_647_058, False, False)
    said = tell(fact("called", **to_plain(called)), OPENED["recipe"]["components"])
    assert said == "resin asked for: 58.82 g (within 27.71 g to 3667.65 g)"


def test_what_may_be_of_either_jug_is_told() -> None:
    data = {"component": 0, "net_ug": 44_500_000, "text": "56.8 g", "astray_ug": 400_000}
    said = tell(fact("accepted", **data), OPENED["recipe"]["components"])
    assert said.endswith("; 0.4 g of it may be of the component called next")
