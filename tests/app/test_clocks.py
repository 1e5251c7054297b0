"""The clocks of the live cups at the bench: foretold once, corrected, heard, and learned from."""

from __future__ import annotations

import copy
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import START, fact, live
from support.live_cups import ABOUT, At, Still, cup
from support.minds import AtOnce, Nobody

from mixer.app.files.confirm import confirm, default_store
from mixer.app.files.profiles import load_resin
from mixer.app.life.clocks import Clocks
from mixer.app.life.cup_life import CREDIBLE
from mixer.app.life.cup_words import thickening
from mixer.app.life.thickenings import FEW, _like, _seen, drawn, is_drawn
from mixer.app.life.told_of_cups import thick
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.record.export import rows
from mixer.record.journal import Journal
from mixer.record.views import Moment, batch_rows, live_cups

pytestmark = pytest.mark.usefixtures("foretold")


@pytest.fixture
def at(record: Path) -> Iterator[At]:
    at = At(record)
    yield at
    at.bench.end("done")


def test_what_was_foretold_is_a_fact_before_it_is_shown_and_stands_alone(at: At) -> None:
    (told,) = at.facts("foretold")
    shown, row = at.cup(1), at.row()
    assert (shown.stands.low_s, shown.stands.high_s) == (told.data["low_s"], told.data["high_s"])
    assert told.data["air"] == [[0, 24]]
    assert (told.data["mass_ug"], told.data["cup_ml"]) == (60_000_000, 150)
    assert float(row["working_min"]) == pytest.approx(told.data["working_s"] / 60, abs=0.05)
    assert row["working_low_min"] < row["working_min"] < row["working_high_min"]
    assert (row["runaway"], row["peak_c"]) == (True, told.data["peak_c"])
    assert "should last" in shown.stands.say


def test_it_is_foretold_once_however_often_the_program_is_begun(at: At) -> None:
    before = at.cup(1)
    for _ in range(2):
        at.bench.end("done")
        at.start()
    assert len(at.facts("foretold")) == 1
    assert at.cup(1).stands.low_s == before.stands.low_s


def test_while_the_record_does_not_take_it_nothing_is_shown(
    at: At, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mixer.record.journal.CLAIM_S", 0.01)
    with Journal.open(at.record) as other:
        other.append(cup(2))
        other.claim()
        at.say("air", "30 degC")  # refused, and the second cup is seen
        assert at.cup(2).stands.low_s is None
        for _ in range(40):
            at.tick()
        assert at.cup(2).stands.low_s is None
    for _ in range(40):
        at.tick()
    assert at.cup(2).stands.low_s is not None
    assert [told.batch for told in at.facts("foretold")] == [1, 2]


def test_half_four_fifths_and_the_end_are_each_heard_once(at: At) -> None:
    low_s = at.cup(1).stands.low_s
    assert low_s is not None
    heard = []
    for share in (0.49, 0.505, 0.79, 0.805, 0.99, 1.005, 1.1):
        at.age(1, low_s * share)
        picture = at.board.newest
        heard.append(picture.cup_rings)
        marks = [
            cue.mark for cue in picture.live_cups[0].stands.cues if cue.mark not in ("warm", "hot")
        ]
        assert marks == ["half", "late", "over"][: sum(share >= s for s in (0.5, 0.8, 1.0))]
    assert heard == sorted(heard)
    assert heard[-1] == len(at.cup(1).stands.cues) == 5
    assert "ventilate" in at.board.newest.say or "time of cup 1 may be over" in at.board.newest.say


def test_after_a_restart_only_the_gravest_is_heard(at: At) -> None:
    at.age(1, 5000)
    at.bench.end("done")
    at.start()
    assert at.board.newest.cup_rings == 1
    assert "do not lift it" in at.board.newest.say


def test_a_temperature_is_a_fact_of_each_cup_and_its_clock_follows(at: At) -> None:
    before = at.cup(1)
    assert at.say("air", "86 degF") == "The air is at 30 degC: its clock follows."
    (said,) = at.facts("measured")
    assert said.data == {"air_c": 30, "text": "86 degF"}
    assert len(at.facts("foretold")) == 2
    after = at.cup(1)
    assert after.stands.low_s is not None
    assert before.stands.low_s is not None
    assert after.stands.low_s < before.stands.low_s
    at.say("air", "30 degC")  # nothing new is foretold of the same
    assert len(at.facts("foretold")) == 2


@pytest.mark.parametrize("utc_s", [800.0, -3600.0, -86_400.0])
@pytest.mark.parametrize("air_c", [12, 35])
def test_after_a_power_cut_a_temperature_counts_from_the_age_that_the_cup_has(
    at: At, monkeypatch: pytest.MonkeyPatch, utc_s: float, air_c: int
) -> None:
    """A clock without its battery is behind: by UTC alone it was said before the hardener."""
    at.age(1, 600)
    at.say("air", "25 degC")
    at.bench.end("done")
    at.clock.skip(100 - at.clock.age_s())
    at.clock.boot = "boot-2"
    utc = (START + timedelta(seconds=utc_s)).isoformat(timespec="milliseconds")
    monkeypatch.setattr(at.clock, "utc", lambda: utc.replace("+00:00", "Z"))
    at.start()
    at.say("air", f"{air_c} degC")
    *_, told = at.facts("foretold")
    air, age_s = told.data["air"], at.cup(1).age_s
    assert age_s >= 700
    (first_s, first_c), (since_s, last_c) = air
    assert (first_s, first_c, last_c) == (0, 25, air_c)
    assert since_s == pytest.approx(age_s if air_c < 25 else 600, abs=15)  # the warmer one holds


def test_what_a_colder_room_put_off_is_heard_again_when_it_comes(at: At) -> None:
    def half() -> float:
        low_s = at.cup(1).stands.low_s
        assert low_s is not None
        return low_s / 2

    at.age(1, half() + 5)
    assert "half" in [cue.mark for cue in at.cup(1).stands.cues]
    at.say("air", "16 degC")
    assert at.cup(1).age_s < half() - 5
    assert "half" not in [cue.mark for cue in at.cup(1).stands.cues]
    rung = at.board.newest.cup_rings
    at.age(1, half() + 5)
    assert "half" in [cue.mark for cue in at.cup(1).stands.cues]
    assert at.board.newest.cup_rings > rung


@pytest.mark.parametrize("text", ["24", "24 g", "", "warm", "70 degC", "-11 degC", "nan degC"])
def test_what_is_no_temperature_is_refused_with_a_sentence(at: At, text: str) -> None:
    assert "give a temperature such as" in at.say("air", text)
    assert at.facts("measured") == []


def test_a_room_beyond_the_model_takes_the_figure_away_and_says_why(at: At) -> None:
    at.say("air", "45 degC")
    shown = at.cup(1)
    assert (shown.stands.low_s, at.row()["working_min"]) == (None, None)
    assert "10 to 40 degC" in shown.stands.say


def test_a_room_beyond_the_model_takes_no_warning_away(at: At) -> None:
    before = at.cup(1).stands.low_s
    at.say("air", "41 degC")
    at.age(1, before * 0.9)
    assert {"half", "late", "over", "warm"} <= {cue.mark for cue in at.cup(1).stands.cues}
    assert at.cup(1).stands.low_s is None
    assert "by the plain rule" in at.cup(1).stands.say


def test_it_is_thickening_is_kept_and_teaches_other_cups(at: At) -> None:
    with Journal.open(at.record) as other:
        other.append([*cup(2, at_ms=35_000), *cup(3, resin_system="another"), *cup(4)])
    at.say("air", "24 degC")  # whatever is said, the others are seen
    before = [at.cup(number).stands.low_s for number in (2, 3, 4)]
    at.age(1, 800)
    assert at.say("thick", "1").startswith("Cup 1 is thickening")
    (said,) = at.facts("thickened")
    assert (said.batch, said.data["cup"], said.data["age_s"]) == (1, 1, 800)
    assert at.cup(1).stands.mark in ("thick", "warm", "hot")
    assert at.row()["thickened_min"] is not None
    after = [at.cup(number).stands.low_s for number in (2, 3, 4)]
    assert after[0] < before[0]
    assert after[1] == before[1]
    assert after[2] < before[2]
    assert "said before" in at.say("thick", "1")
    assert len(at.facts("thickened")) == 1


def off(batch: int) -> list[Any]:
    """As :func:`cup`, with half of its hardener."""
    told = live(batch, cup=batch, at_ms=30_002, amounts_ug=[44_100_000, 8_000_000])
    return [one for one in cup(batch) if one.kind != "live"] + [told]


def test_a_cup_off_its_ratio_has_no_time_and_teaches_no_right_one(at: At) -> None:
    as_right = at.facts("foretold")[0].data
    with Journal.open(at.record) as other:
        # As a program told it that looked at no ratio.
        other.append([*off(2), fact("foretold", 2, 31_000, **{**as_right, "mass_ug": 52_100_000})])
    at.say("air", "24 degC")
    shown = at.cup(2).stands
    assert (shown.low_s, shown.working_s) == (None, None)
    assert (at.cup(2).pot_life, at.cup(1).pot_life[:6]) == ("", "25 min")
    assert (
        "it was weighed with 49.6 % too little hardener, and its label's time is for" in shown.say
    )
    assert at.facts("foretold")[-1].data["rule_low_s"] < as_right["high_s"]
    before = at.cup(1).stands.low_s
    at.age(2, 800)
    at.say("thick", "2")
    at.tick()
    assert at.cup(1).stands.low_s == before
    facts = [*off(2), fact("foretold", 2, 31_000, **as_right)]
    now = Moment(fact("x", 2, 830_000).utc, 830_000, "boot-1")
    _, data, said = thickening("2", live_cups(facts), now)
    assert said.endswith("cups of sample-36 do not go by it, as it was weighed off its ratio.")
    (then,) = batch_rows([*facts, fact("thickened", 2, 830_000, **data)])
    assert _seen(then, _like(then.opened)) == []


def test_a_temperature_of_the_laminate_is_one_of_the_cup_too(at: At) -> None:
    before = at.cup(1).stands.low_s or 0
    with Journal.open(at.record) as other:
        utc = fact("x", 1, 90_000).utc
        told = {"number": 1, "value": [28, 34], "from_utc": utc, "to_utc": utc}
        other.append([fact("temperature", 1, 90_000, **told)])
    at.say("thick", "7")  # whatever is said, it is seen
    assert at.facts("foretold")[-1].data["air"] == [[0, 34]]
    assert (at.cup(1).stands.low_s or 0) < before


def test_what_was_taken_back_changes_its_clock_and_teaches_nothing(at: At) -> None:
    before = at.cup(1).stands.low_s
    at.say("air", "34 degC")
    said = at.say("thick", "1")
    assert "So early: look at the hardener and its label, it may be the wrong one." in said
    assert at.cup(1).stands.mark == "warm"
    slip = {"was": None, "value": None, "reason": "a slip"}
    with Journal.open(at.record) as other:
        other.append(
            [fact("corrected", 1, field=name, **slip) for name in ("air-1", "thickened-1")]
        )
        other.append(cup(2))
    at.say("thick", "7")
    assert (at.cup(1).stands.low_s, at.cup(1).stands.mark) == (before, "")
    assert at.facts("foretold")[-1].data["seen"] == 0


def test_one_temperature_that_was_taken_back_changes_its_clock(at: At) -> None:
    before = at.cup(1).stands.low_s
    at.say("air", "12 degC")
    assert at.cup(1).stands.low_s != before
    with Journal.open(at.record) as other:
        other.append([fact("corrected", 1, field="air-1", was=12.0, value=None, reason="a slip")])
    at.bench.end("done")
    at.start()
    at.tick()
    assert at.cup(1).stands.low_s == before


@pytest.mark.parametrize("text", ["7", "x", "-1", "1 2", "²"])
def test_thick_of_no_live_cup_is_refused(at: At, text: str) -> None:
    assert "live cups: 1" in at.say("thick", text)
    assert at.facts("thickened") == []


@pytest.mark.parametrize(
    ("age_s", "told", "says"),
    [
        (800, {"model_s": 1500}, "is thickening: kept, and later cups of sample-36 go by it."),
        (300, {"model_s": 1500}, "do not go by it. So early: look at the hardener and its label"),
        (6100, {"model_s": 1500}, "; later cups of sample-36 do not go by it, so late as it is."),
        (300, {"rule_low_s": 1500}, "do not go by it. So early: look at the hardener"),
        (800, {"rule_low_s": 1500}, "do not go by it, as no time was told for this one."),
    ],
)
def test_what_later_cups_make_of_a_word_is_said_as_it_is(
    age_s: int, told: dict[str, Any], says: str
) -> None:
    facts = [*cup(1), fact("foretold", 1, 31_000, **told)]
    now_ms = 30_000 + age_s * 1000
    now = Moment(fact("x", 1, now_ms).utc, now_ms, "boot-1")
    _, data, said = thickening("1", live_cups(facts), now)
    assert says in said
    assert data["age_s"] == age_s
    (then,) = batch_rows([*facts, fact("thickened", 1, now_ms, **data)])
    assert bool(_seen(then, _like(then.opened))) == ("and later cups of sample-36 go by it" in said)


def test_without_its_number_thick_is_of_the_only_cup(at: At) -> None:
    assert at.say("thick").startswith("Cup 1 is thickening")
    with Journal.open(at.record) as other:
        other.append([*cup(2), *cup(3)])
    at.say("air", "24 degC")
    assert "Which cup" in at.say("thick")


def test_without_a_record_both_words_are_refused(tmp_path: Path) -> None:
    bench = At(tmp_path / "none")
    assert bench.say("air", "24 degC").startswith("No batch has begun, no cup is live and")
    assert bench.say("thick", "1") == "No cup is live."
    assert not (tmp_path / "none").exists()


def test_a_resin_without_a_pot_life_is_told_of(tmp_path: Path) -> None:
    profile = {**ABOUT["profile"], "resin": dict(ABOUT["profile"]["resin"])}
    del profile["resin"]["pot_life"]
    with Journal.open(tmp_path / "record") as journal:
        journal.append(cup(1, profile=profile))
    bench = At(tmp_path / "record")
    assert "has no pot life" in bench.cup(1).stands.say
    assert bench.facts("foretold") == []


def test_of_much_without_a_pot_life_it_is_warned_all_the_same(tmp_path: Path) -> None:
    profile = {**ABOUT["profile"], "resin": dict(ABOUT["profile"]["resin"])}
    del profile["resin"]["pot_life"]
    told = {"profile": profile, "size_ug": 900_000_000, "air_c": 30}
    begun, _, first, *_ = cup(1, **told)
    much = [
        fact("accepted", 1, 20_000, component=0, net_ug=661_800_000),
        first,
        fact("accepted", 1, 30_000, component=1, net_ug=238_200_000),
        live(1, cup=1, at_ms=30_001, amounts_ug=[661_800_000, 238_200_000]),
    ]
    with Journal.open(tmp_path / "record") as journal:
        journal.append([begun, *much])
        clocks = Clocks(Still(), lambda said: None)
        clocks.follow(journal, 1, "pour", 120)
        assert "900 g" in clocks.before.say
        assert clocks.before.say.endswith("Spread it out: so much may run hot.")
        for age_s, warned in ((200.0, ""), (250.0, "This cup may heat itself, and nothing")):
            _, said = clocks.draw(replace(Picture(), contact_age_s=age_s), (), 1, streaming=False)
            assert said.startswith(warned)
            assert bool(said) == bool(warned)
    at = At(tmp_path / "record")
    assert at.cup(1).stands.say.endswith("Spread it out: so much may run hot.")
    at.age(1, 245)
    assert at.cup(1).stands.mark == "warm"
    assert at.board.newest.cup_rings == 1
    assert "spread it, use it, or set it outside" in at.cup(1).stands.say
    at.age(1, 340)
    assert (at.cup(1).stands.mark, at.board.newest.cup_rings) == ("hot", 2)
    assert "do not lift it, do not breathe it; ventilate" in at.cup(1).stands.say


@pytest.mark.parametrize(("hours", "told"), [(9, 1), (24 * 8, 0)])
def test_of_a_cup_that_has_long_cured_nothing_is_heard(
    record: Path, hours: float, told: int
) -> None:
    clock = Still()
    clock.skip(hours * 3600)
    at = At(record, clock)
    assert len(at.facts("foretold")) == told  # how long it lives, the model has to say
    at.tick()
    assert at.board.newest.cup_rings == 0
    assert at.cup(1).stands.mark != "hot"
    at.say("air", "30 degC")
    assert len(at.facts("foretold")) == told


def slow() -> dict[str, Any]:
    """A cup that lives for half a day."""
    profile = copy.deepcopy(ABOUT["profile"])
    profile["resin"]["pot_life"]["time"] = "240 min"
    return {**ABOUT, "profile": profile, "air_c": 10}


def test_a_cup_that_lives_for_half_a_day_is_followed_as_long(tmp_path: Path) -> None:
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append(cup(1, **slow()))
    at = At(path)
    low_s = at.cup(1).stands.low_s or 0
    assert low_s > 8.5 * 3600
    at.age(1, 8.1 * 3600)
    at.say("air", "10 degC")
    at.age(1, 8.2 * 3600)
    assert at.say("air", "38 degC") == "The air is at 38 degC: its clock follows."
    at.tick()
    told = at.facts("foretold")[-1].data
    assert at.cup(1).stands.low_s == told["low_s"] < low_s
    rung = at.board.newest.cup_rings
    at.age(1, told["hot_s"] + 60)
    assert at.cup(1).stands.mark == "hot"
    assert at.board.newest.cup_rings > rung
    at.age(1, told["peak_s"] + 9 * 3600)
    assert at.cup(1).stands.mark == "over"
    at.bench.end("done")


def test_a_slow_cup_that_is_found_after_a_working_day_has_a_clock(tmp_path: Path) -> None:
    path, clock = tmp_path / "record.cupside", Still()
    with Journal.open(path) as journal:
        journal.append(cup(1, **slow()))
    clock.skip(8.2 * 3600)
    at = At(path, clock)
    at.tick()
    assert at.cup(1).stands.low_s == at.facts("foretold")[0].data["low_s"]
    assert at.board.newest.cup_rings == 1
    at.bench.end("done")


def share(at: At, *cups: int, g: int | None = None, at_ms: int = 40_000) -> None:
    """Shares of cup 1 in cups of their own, by eye or of so many grams."""
    with Journal.open(at.record) as other:
        told = {"of": 1, "mass_ug": g and g * 1_000_000, "weights": "scale" if g else None}
        other.append([fact("shared", 1, at_ms, cup=number, **told) for number in cups])
    at.say("air", "24 degC")  # whatever is said, they are seen


def test_a_share_lives_as_long_as_its_own_mass_and_all_have_one_first_contact(at: At) -> None:
    whole = at.cup(1)
    share(at, 2, g=10)
    share(at, 3, g=20)
    own, ten, twenty = (at.cup(number) for number in (1, 2, 3))
    assert own.age_s == ten.age_s == twenty.age_s
    lows = [one.stands.low_s or 0 for one in (whole, own, twenty, ten)]
    assert lows[0] < min(lows[1:])
    assert lows[2] < lows[3]
    assert ten.stands.say.startswith("Cup 2 should last")
    told = {fact.data["cup"]: fact.data for fact in at.facts("foretold-share")}
    assert told[2]["shared"] == [[10, 10_000_000, None]]
    assert told[1]["shared"] == [[10, 50_000_000, 150], [10, 30_000_000, 150]]
    assert (len(at.facts("foretold")), at.cup(2).stands.low_s) == (1, told[2]["low_s"])
    rung = at.board.newest.cup_rings
    at.age(1, lows[2] / 2 + 5)
    assert at.board.newest.say == at.cup(3).stands.cues[0].say
    assert "Half of the time of cup 3" in at.board.newest.say
    at.age(1, lows[3] / 2 + 5)
    assert "Half of the time of cup 2" in at.board.newest.say
    assert at.board.newest.cup_rings > rung
    at.bench.end("done")
    at.start()
    assert at.cup(2).stands.low_s == told[2]["low_s"]
    count = len(at.facts("foretold-share"))
    at.say("air", "32 degC")
    assert len(at.facts("foretold-share")) == count + 3
    assert (at.cup(2).stands.low_s or 0) < told[2]["low_s"]


def test_a_share_too_small_to_be_told_of_goes_by_its_batch(at: At) -> None:
    whole = at.cup(1)
    share(at, 2, g=3)
    assert (at.cup(2).stands.low_s, at.cup(2).alone) == (whole.stands.low_s, False)
    assert (at.cup(1).stands.low_s or 0) > (whole.stands.low_s or 0)


def test_a_late_share_gains_little(at: At) -> None:
    share(at, 2, g=10)
    share(at, 3, g=10, at_ms=1_000_000)
    whole_s = at.facts("foretold")[0].data["low_s"]
    assert whole_s < (at.cup(3).stands.low_s or 0) < (at.cup(2).stands.low_s or 0)


def test_the_cups_of_one_batch_go_by_what_was_foretold_of_all_of_it(at: At) -> None:
    whole = at.cup(1)
    share(at, 2, 3)  # the air of one batch is said once
    assert (len(at.facts("foretold")), len(at.facts("measured"))) == (1, 1)
    for number in (1, 2, 3):
        one = at.cup(number)
        assert (one.stands.low_s, one.stands.high_s) == (whole.stands.low_s, whole.stands.high_s)
        assert one.stands.say.startswith("Each of cups 1, 2 and 3 should last")
    rung = at.board.newest.cup_rings
    at.age(1, (whole.stands.low_s or 0) / 2 + 5)
    assert at.board.newest.cup_rings == rung + 1
    assert "each of cups 1, 2 and 3" in at.board.newest.say
    assert at.board.newest.say.count("Half of the time") <= 1
    share(at, 4)
    at.tick()
    assert at.cup(4).stands.cues == at.cup(1).stands.cues
    assert at.board.newest.cup_rings == rung + 1  # a new cup of it is no news


def test_of_several_cups_one_that_thickens_speaks_for_itself_and_warns_the_others(at: At) -> None:
    share(at, 2, 3)
    before = at.cup(1)
    at.age(1, 500)
    assert at.say("thick", "2").startswith("Cup 2 is thickening")
    assert "thick" in [cue.mark for cue in at.cup(2).stands.cues]
    assert at.cup(2).stands.say.startswith("Cup 2")
    for number in (1, 3):
        assert "thick" not in [cue.mark for cue in at.cup(number).stands.cues]
        assert (at.cup(number).stands.low_s or 0) < (before.stands.low_s or 0)
        assert "ach of cups 1 and 3" in at.cup(number).stands.say
    assert at.say("thick", "3").startswith("Cup 3 is thickening")
    with Journal.read(at.record) as reader:
        told = [row["thickened_min"] for row in rows(reader.entries(1))]
    assert told[0] is None
    assert None not in told[1:]


@pytest.mark.parametrize("then", ["", "12 degC", "38 degC", "8 degC"])
def test_what_is_said_of_the_room_later_changes_no_lesson(at: At, then: str) -> None:
    model_s = at.facts("foretold")[-1].data["model_s"]
    at.age(1, model_s / 2)
    at.say("thick", "1")
    if then:
        at.say("air", then)
    with Journal.open(at.record) as other:
        other.append(cup(2))
    at.say("thick", "7")  # whatever is said, it is seen
    of_2 = next(told for told in reversed(at.facts("foretold")) if told.batch == 2)
    assert of_2.data["seen"] == 1
    assert of_2.data["working_s"] == pytest.approx(of_2.data["model_s"] * 0.5 ** (1 / 3), rel=0.01)


def test_a_room_that_is_corrected_corrects_the_lesson(at: At) -> None:
    right_s = at.facts("foretold")[-1].data["model_s"]
    at.say("air", "38 degC")
    at.age(1, right_s * 0.6)
    at.say("thick", "1")
    slip = {"was": None, "value": 24, "reason": "a slip"}
    with Journal.open(at.record) as other:
        other.append([fact("corrected", 1, field="air-1", **slip)])
    at.say("thick", "7")  # whatever is said, it is seen
    with Journal.open(at.record) as other:
        other.append(cup(2))
    at.say("thick", "7")
    of_2 = next(told for told in reversed(at.facts("foretold")) if told.batch == 2)
    assert of_2.data["seen"] == 1
    assert of_2.data["working_s"] == pytest.approx(of_2.data["model_s"] * 0.6 ** (1 / 3), rel=0.01)


def test_a_share_that_outlives_the_whole_teaches_nothing(at: At) -> None:
    share(at, 2)
    with Journal.open(at.record) as other:
        other.append([*cup(2, at_ms=35_000)])
    at.say("air", "24 degC")
    model_s = at.facts("foretold")[0].data["model_s"]
    at.age(1, model_s * 1.2)
    at.say("thick", "2")
    assert {told.data["seen"] for told in at.facts("foretold")} == {0}


@pytest.fixture
def said(at: At, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], str]:
    """``cupside thick``, in another program."""
    monkeypatch.setattr("mixer.app.life.told_of_cups.Clock", lambda: at.clock)
    return lambda cup: thick(at.record, cup)


@pytest.mark.parametrize("open_", [False, True], ids=["no bench", "bench open"])
def test_what_was_said_by_command_corrects_the_other_cups_of_its_resin(
    at: At, said: Callable[[str], str], open_: bool
) -> None:
    with Journal.open(at.record) as other:
        other.append([*cup(2, at_ms=35_000), *cup(3, resin_system="another")])
    at.say("air", "24 degC")  # whatever is said, the others are seen
    before = [at.cup(number).stands.low_s or 0 for number in (1, 2, 3)]
    at.age(1, 800)
    if not open_:
        at.bench.end("done")
    assert said("1").startswith("Cup 1 is thickening")
    if not open_:
        at.start()
    at.tick()
    at.tick()
    after = [at.cup(number).stands.low_s or 0 for number in (1, 2, 3)]
    assert (after[0], after[2]) == (before[0], before[2])
    assert after[1] < before[1]
    (_, of_2) = (told for told in at.facts("foretold") if told.batch == 2)
    assert (of_2.data["seen"], of_2.data["seen_ratio"]) == (1, pytest.approx(0.53, abs=0.1))
    count = len(at.facts("foretold"))
    for _ in range(2):
        at.bench.end("done")
        at.start()
        at.tick()
    assert len(at.facts("foretold")) == count  # once, however often it is begun


def test_what_was_said_by_command_corrects_the_other_cups_of_its_batch(
    at: At, said: Callable[[str], str]
) -> None:
    share(at, 2, g=20)
    share(at, 3)
    before = [at.cup(number).stands.low_s or 0 for number in (1, 2, 3)]
    at.age(1, 500)
    at.bench.end("done")
    said("3")
    at.start()
    at.tick()
    after = [at.cup(number).stands.low_s or 0 for number in (1, 2, 3)]
    assert after[0] < before[0]
    assert after[1] < before[1]
    count = len(at.facts("foretold")) + len(at.facts("foretold-share"))
    at.bench.end("done")
    at.start()
    at.tick()
    assert len(at.facts("foretold")) + len(at.facts("foretold-share")) == count


def test_what_was_said_of_a_resin_and_taken_back_or_said_anew_moves_its_cups(
    at: At, said: Callable[[str], str]
) -> None:
    """Of the same number of words another may be told."""
    with Journal.open(at.record) as other:
        other.append(cup(2))
    at.say("air", "24 degC")
    first_s = at.cup(2).stands.low_s or 0
    lows = []
    slip = {"field": "thickened-1", "was": None, "value": None, "reason": "a slip"}
    for age_s in (500, 700):
        at.age(1, age_s)
        at.bench.end("done")
        with Journal.open(at.record) as other:
            other.append([fact("corrected", 1, **slip)])
        said("1")
        at.start()
        at.tick()
        lows.append(at.cup(2).stands.low_s or 0)
    assert lows[0] < lows[1] < first_s
    with Journal.open(at.record) as other:
        other.append([fact("corrected", 1, **slip)])
    at.tick()
    at.tick()
    assert at.cup(2).stands.low_s == first_s


def test_a_command_names_the_cups_that_go_by_what_was_foretold_before(
    at: At, said: Callable[[str], str]
) -> None:
    with Journal.open(at.record) as other:
        other.append([*cup(2), *cup(3, resin_system="another"), *cup(4)])
    at.say("air", "24 degC")
    at.age(1, 800)
    at.bench.end("done")
    assert said("1").endswith(
        "later cups of sample-36 go by it. Cups 2 and 4 go by what was foretold of them before, "
        "until a bench is open."
    )
    assert said("3") == "Cup 3 is thickening: kept, and later cups of another go by it."
    at.start()
    at.tick()
    at.age(2, 40_000)  # long over
    assert said("2").endswith("so late as it is.")


@pytest.mark.parametrize("to", [None, 60_000_000], ids=["unknown", "all of it"])
def test_a_share_that_may_be_all_of_it_lives_no_longer_than_the_whole(
    at: At, to: int | None
) -> None:
    """It was told too small, and was put right."""
    whole = at.cup(1).stands.low_s
    assert whole is not None
    with Journal.open(at.record) as other:
        told = {"of": 1, "mass_ug": 10_000_000, "weights": "typed"}
        other.append([fact("shared", 1, 40_000, cup=2, **told)])
    at.say("air", "24 degC")  # whatever is said, it is seen
    assert (at.cup(2).stands.low_s or 0) > whole
    with Journal.open(at.record) as other:
        told = {"field": "share-2", "was": 10_000_000, "value": to, "reason": "a slip"}
        other.append([fact("corrected", 1, **told)])
    at.bench.end("done")
    at.start()
    at.tick()
    assert at.cup(2).stands.low_s == whole


@pytest.mark.parametrize("first", ["corrected", "closed"])
def test_what_a_cup_taught_is_put_right_with_its_room_though_it_is_closed(
    at: At, first: str
) -> None:
    """It thickened as soon as one in air of 36 degC does, and that air was a slip."""
    at.say("air", "36 degC")
    at.age(1, float(at.facts("foretold")[-1].data["model_s"]))
    at.say("thick", "1")
    slip = {"field": "air-1", "was": 36, "value": None, "reason": "misread"}
    facts = [fact("corrected", 1, **slip), fact("closed", 1, cup=1, how="used-up")]
    with Journal.open(at.record) as other:
        for one in facts if first == "corrected" else reversed(facts):
            other.append([one])
            at.tick()
        other.append(cup(2, at_ms=round(at.clock.age_s() * 1000)))
    for _ in range(20):
        at.tick()
    told = next(told for told in reversed(at.facts("foretold")) if told.batch == 2)
    assert told.data["seen_ratio"] == pytest.approx(0.45, abs=0.1)
    count = len(at.facts("foretold"))
    for _ in range(20):
        at.tick()
    assert len(at.facts("foretold")) == count


def test_of_a_batch_with_a_damaged_fact_the_clock_follows_all_the_same(at: At) -> None:
    """What can be read of it is foretold and warned of."""
    with Journal.open(at.record) as other:
        other.append([*cup(2), fact("noted", 2, text="x")])
        other.append([fact("noted", 0, text="the newest is sound")])
    with closing(sqlite3.connect(at.record)) as db, db:
        db.execute("UPDATE facts SET bytes = x'7b7d' WHERE kind = 'noted' AND batch = 2")
    at.bench.end("done")
    at.start()
    at.tick()
    before = at.cup(2).stands.low_s
    assert before == at.cup(1).stands.low_s
    at.say("air", "35 degC")
    at.tick()
    after = at.cup(2).stands.low_s
    assert before is not None
    assert after is not None
    assert after < before / 1.5
    at.age(2, after)
    assert "over" in [cue.mark for cue in at.cup(2).stands.cues]


def test_of_a_damaged_batch_it_is_asked_once_however_often_it_is_looked(
    at: At, said: Callable[[str], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with Journal.open(at.record) as other:
        other.append([*cup(2), fact("noted", 2, text="x")])
    at.say("air", "24 degC")
    at.age(1, 800)
    at.bench.end("done")
    said("1")
    with closing(sqlite3.connect(at.record)) as db, db:
        db.execute("UPDATE facts SET bytes = x'7b7d' WHERE kind = 'noted'")
    asked = []
    ask = AtOnce.ask
    monkeypatch.setattr(AtOnce, "ask", lambda *a: (asked.append(a[1]), ask(*a)))
    at.start()
    for _ in range(10):
        at.tick()
    assert [which for what, which, _ in asked if what == "cup"] == [(2, 0)]


def test_an_estimate_that_fails_is_said(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Fails(Nobody):
        def ask(self, key: Any, think: Any) -> None:
            self._told.append((key, OSError("no process")))

    monkeypatch.setattr("mixer.app.life.clocks.Seer", Fails)
    at = At(record)
    assert "the estimate failed" in at.cup(1).stands.say
    assert at.cup(1).stands.low_s is None


def test_of_a_batch_it_is_foretold_while_it_is_stirred_with_what_is_in_the_cup(
    tmp_path: Path,
) -> None:
    sample = load_resin("sample-36")
    confirm(sample, "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="20 degC", stir="60s"))
    at.say("go")
    assert at.board.newest.lasts.startswith("60 g should last")
    at.say("air", "26 degC")
    at.say("shows", "44.1")
    at.say("go")
    at.say("shows", "60.2")
    at.tick()
    at.say("go")
    assert at.board.newest.stage == "stir"
    at.clock.skip(60)
    at.tick()
    assert at.board.newest.stage == "live"
    (told,) = at.facts("foretold")
    (alive,) = at.facts("live")
    assert told.at_ms < alive.at_ms
    assert (told.data["mass_ug"], told.data["air"]) == (60_200_000, [[0, 26]])
    assert at.cup(1).stands.low_s == told.data["low_s"]
    assert at.board.newest.lasts == ""
    at.bench.end("done")


def test_of_a_batch_that_is_used_off_its_ratio_no_time_is_said(tmp_path: Path) -> None:
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="25 degC", stir="600s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", ""), ("shows", "47"), ("go", "")):
        at.say(word, text)
    low_s = minutes(at.board.newest.lasts)[0] * 60
    at.say("use")
    assert at.board.newest.stage == "stir"
    said = "it was weighed with 81.7 % too little hardener, and its label's time is for its ratio."
    assert at.board.newest.lasts == f"No time can be told for this cup: {said}"
    at.clock.skip(600)
    at.tick()
    assert at.board.newest.stage == "live"
    (told,) = at.facts("foretold")
    assert (told.data["why"], told.data["off_ratio"]) == (
        said[:-1],
        pytest.approx(-0.817, abs=1e-3),
    )
    assert "model_s" not in told.data
    assert said in at.cup(1).stands.say
    at.age(1, told.data["rule_low_s"] + 1)
    cues = at.cup(1).stands.cues
    assert {"half", "late", "over", "warm"} <= {cue.mark for cue in cues}
    assert not any(re.search(r"\d min", cue.say) for cue in cues)
    assert told.data["rule_low_s"] <= low_s + 600  # of less in it than of its size
    at.bench.end("done")


def test_of_a_blend_that_is_used_off_its_own_split_no_time_is_said(tmp_path: Path) -> None:
    confirm(load_resin("sample-blend"), "100:24:12", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-blend", "60g", "typed:", air="25 degC", stir="600s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", ""), ("shows", "60"), ("go", "")):
        at.say(word, text)  # all of it from the jug of the fast one
    low_s = minutes(at.board.newest.lasts)[0] * 60
    at.say("use")
    assert at.board.newest.stage == "stir"
    said = "it was weighed with 50.2 % too much fast, and its label's time is for its ratio."
    assert at.board.newest.lasts == f"No time can be told for this cup: {said}"
    at.clock.skip(600)
    at.tick()
    assert at.board.newest.stage == "live"
    assert {told.data["why"] for told in at.facts("foretold")} == {said[:-1]}
    told = at.facts("foretold")[-1].data
    assert (told["off_ratio"], told["off"]) == (
        pytest.approx(0.502, abs=1e-3),
        {"fast": told["off_ratio"], "slow": -1.0},
    )
    assert said in at.cup(1).stands.say
    assert at.cup(1).pot_life == ""
    assert told["rule_low_s"] <= (low_s + 60) / 1.5
    at.bench.end("done")


def test_what_puts_a_ratio_right_is_capped_by_heat_and_anew_as_the_room_is_told(
    tmp_path: Path,
) -> None:
    confirm(load_resin("sample-28"), "100:28", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-28", "20g", "typed:", air="15 degC"))
    at.say("go")
    (calm,) = at.facts("capped")
    assert 20e6 < calm.data["most_ug"] < 30e6
    at.tick()
    assert len(at.facts("capped")) == 1
    at.say("air", "30 degC")
    at.tick()
    *_, warm = at.facts("capped")
    assert warm.data["most_ug"] is None  # beyond every cap, which is said
    assert "should not run hot" in at.board.newest.lasts or "runs hot" in at.board.newest.lasts
    at.bench.end("done")


def test_a_room_that_is_told_in_the_stir_moves_what_the_batch_is_warned_by(tmp_path: Path) -> None:
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="20 degC", stir="600s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", ""), ("shows", "60"), ("go", "")):
        at.say(word, text)
    assert at.board.newest.stage == "stir"
    cool = at.board.newest.lasts
    assert at.say("air", "35 degC") == "The air is at 35 degC: its clock follows."
    at.tick()
    warm = at.board.newest.lasts
    assert minutes(warm)[1] < minutes(cool)[0]
    for part, rings in ((0.4, 0), (0.6, 1)):
        at.clock.skip(minutes(warm)[0] * 60 * part - (at.board.newest.contact_age_s or 0))
        at.tick()
        assert at.board.newest.cup_rings == rings
    at.bench.end("done")


def minutes(lasts: str) -> list[int]:
    """The range in what is said before the pour."""
    return [int(word) for word in re.findall(r"\d+", lasts.split(" should last ")[1])[:2]]


def test_a_batch_that_waits_with_hardener_in_it_is_warned_of_too(tmp_path: Path) -> None:
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="24 degC", stir="60s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", "")):
        at.say(word, text)
    assert at.board.newest.cup_rings == 0
    at.clock.skip(1000)
    at.tick()
    assert at.board.newest.cup_rings == 1
    assert "this cup may heat itself" in at.board.newest.say.lower()
    at.clock.skip(2000)
    at.tick()
    assert "do not lift it" in at.board.newest.say
    rung = at.board.newest.cup_rings
    at.say("shows", "60.0")
    at.say("go")
    at.clock.skip(60)
    at.tick()
    assert at.board.newest.stage == "live"
    assert at.cup(1).stands.mark == "hot"
    assert at.board.newest.cup_rings == rung  # that was said already
    at.bench.end("done")


def test_while_it_is_being_split_its_cups_are_warned_of_once(tmp_path: Path) -> None:
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="20 degC", stir="60s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", ""), ("shows", "60"), ("go", "")):
        at.say(word, text)
    at.say("split")
    at.clock.skip(60)
    at.tick()
    at.say("split")
    assert (at.board.newest.stage, at.board.newest.lasts) == ("split", "")
    assert at.cup(2).stands.say.startswith("Each of cups 1 and 2 should last")
    assert len(at.facts("foretold")) == 1
    rung = at.board.newest.cup_rings
    at.age(1, (at.cup(1).stands.low_s or 0) / 2 + 1)
    for _ in range(5):
        at.tick()
    assert at.board.newest.cup_rings == rung + 1
    at.say("air", "20 degC")
    assert len(at.facts("measured")) == 1
    at.say("go")
    at.tick()
    assert (at.board.newest.stage, at.board.newest.cup_rings - rung) == ("live", 1)
    at.bench.end("done")


# -- what it teaches

ratios = st.lists(st.floats(*CREDIBLE), max_size=12)


@given(st.integers(300, 20_000), st.floats(0.5, 0.95), st.floats(1.05, 2), ratios)
def test_no_observation_makes_a_cup_last_longer_than_its_label_allows(
    working_s: int, low: float, high: float, seen: list[float]
) -> None:
    told = {"working_s": working_s, "gel_s": None, "warm_s": 200, "hot_s": None}
    told |= {"low_s": int(working_s * low), "high_s": round(working_s * high)}
    found = drawn(told, seen)
    assert found["low_s"] <= found["working_s"] <= found["high_s"] <= told["high_s"]
    assert found["low_s"] <= told["working_s"]
    assert found["warm_s"] <= 200
    assert found["gel_s"] is None
    if len(seen) < FEW:
        assert found["low_s"] <= told["low_s"]
        assert found["working_s"] <= told["working_s"]
    if seen and max(seen) < 1:
        assert found["low_s"] < told["low_s"]
    assert found["seen"] == len(seen)


@given(st.floats(0.3, 0.9))
def test_the_more_often_it_was_seen_the_nearer_to_what_was_seen(ratio: float) -> None:
    told = {"working_s": 10_000, "low_s": 8_000, "high_s": 12_000}
    working = [drawn(told, [ratio] * n)["working_s"] for n in range(13)]
    assert working == sorted(working, reverse=True)
    assert 10_000 * ratio < working[-1] < 10_000 * ratio**0.8


@given(st.lists(st.floats(*CREDIBLE), max_size=12), st.lists(st.floats(*CREDIBLE), max_size=12))
def test_what_still_stands_would_be_foretold_anew_as_it_is(
    before: list[float], now: list[float]
) -> None:
    told = {"model_s": 1500, "working_s": 1500, "low_s": 1200, "high_s": 1900, "warm_s": 700}
    found, anew = drawn(told, before), drawn(told, now)
    assert is_drawn(found, before)
    if is_drawn(found, now):
        assert {name: found[name] for name in told} == pytest.approx(
            {name: anew[name] for name in told}, abs=1
        )


def test_before_a_pour_is_told_what_was_learned_of_that_resin(tmp_path: Path) -> None:
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    told = []
    for taught in (False, True):
        path = tmp_path / f"record-{taught}"
        with Journal.open(path) as other:
            other.append(cup(1, bench="real"))
        at = At(path)
        at.tick()
        at.age(1, 800)
        if taught:
            assert at.say("thick", "1").startswith("Cup 1 is thickening")
        at.bench.handle(Request("sample-36", "60g", "typed:", air="24 degC", cup="paper-150"))
        at.say("go")
        told.append(at.board.newest.lasts)
        at.bench.end("done")
    usual, taught_of = told
    assert minutes(taught_of) < minutes(usual)
    assert "as cups of it were said to thicken sooner (1 in the record)" in taught_of
