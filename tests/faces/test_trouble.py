"""A scale in trouble: one sentence, the reason in ``held``, and the pour goes on or ends."""

from __future__ import annotations

import pytest
from support.command import Mix, one_sentence

from mixer.record.journal import Journal

MOODS = {"silent": "silent", "nonsense": "nonsense", "overload": "overload"}


@pytest.mark.parametrize("mood", MOODS)
def test_no_first_weight_is_status_3_and_no_batch(mix: Mix, mood: str) -> None:
    mix.counter.mood = mood

    def director(mix: Mix) -> None:
        mix.see(lambda line: line["held"] == MOODS[mood])
        mix.let_pass(21)  # 5 s of real time, by its clock

    assert mix.run(director) == 3
    assert one_sentence(mix.err)
    assert "within 5 s" in mix.err
    assert mix.rows() == []
    assert mix.last["verdict"] is mix.last["batch"] is None


@pytest.mark.parametrize("mood", MOODS)
def test_trouble_before_the_tare_is_told_and_waited_out(mix: Mix, mood: str) -> None:
    def director(mix: Mix) -> None:
        mix.see(lambda line: line["cue"] == "place")
        mix.counter.mood = mood
        told = mix.see(lambda line: line["held"] == MOODS[mood])
        assert one_sentence(told["say"])
        assert told["stage"] == "cup"
        mix.let_pass(20)
        mix.counter.mood = "well"
        mix.see(lambda line: line["held"] is None)
        mix.place_cup()
        mix.say("drop")

    assert mix.run(director) == 1
    assert mix.row()["outcome"] == "dropped"


@pytest.mark.parametrize("mood", [*MOODS, "pounds"])
def test_a_pour_goes_on_when_the_scale_is_well_again(mix: Mix, mood: str) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        mix.counter.mood = mood
        # A machine that is busy for a second is a scale that is silent, before it is heard.
        told = mix.see(lambda line: line["held"] == {**MOODS, "pounds": "unit"}[mood])
        assert one_sentence(told["say"])
        mix.counter.mood = "well"
        mix.see(lambda line: line["held"] is None)
        mix.counter.pour(to_g=58)
        mix.settle(28)
        mix.say("drop")

    assert mix.run(director) == 1
    with Journal.open(mix.record) as journal:
        resumed = [entry.data["how"] for entry in journal.entries() if entry.kind == "resumed"]
    assert resumed[0] == "continuous"
    row = mix.row()
    assert (row["outcome"], row["unproven_because"]) == ("dropped", "")
    assert float(row["resin_g"]) == pytest.approx(28, abs=0.2)


@pytest.mark.parametrize("mood", ["silent", "nonsense"])
@pytest.mark.parametrize("tared", [False, True])
def test_a_scale_that_stays_away_ends_it_with_status_3(mix: Mix, mood: str, tared: bool) -> None:
    def director(mix: Mix) -> None:
        if tared:
            mix.pour_20_g()
        else:
            mix.see(lambda line: line["cue"] == "place")
        mix.counter.mood = mood
        mix.see(lambda line: line["held"] == mood)
        mix.let_pass(50)
        assert mix.status is None
        mix.let_pass(11)

    assert mix.run(director) == 3
    assert one_sentence(mix.err)
    assert mix.last["stage"] == "ended"
    row = mix.row()
    assert row["outcome"] == "scale-lost"


@pytest.mark.parametrize("back", [True, False])
def test_a_cable_pulled_in_mid_pour(mix: Mix, back: bool) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        mix.counter.unplug()
        told = mix.see(lambda line: line["held"] == "link")
        assert one_sentence(told["say"])
        if back:
            mix.counter.plug_in()
            mix.see(lambda line: line["held"] is None)
            mix.say("drop")
        else:
            mix.let_pass(61)

    assert mix.run(director) == (1 if back else 3)
    assert mix.row()["outcome"] == ("dropped" if back else "scale-lost")
    assert float(mix.row()["resin_g"]) == pytest.approx(20, abs=0.2)  # kept, either way


def test_a_short_trouble_after_a_long_one_of_another_kind_ends_nothing(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        mix.counter.mood = "overload"
        mix.see(lambda line: line["held"] == "overload")
        for _ in range(7):  # a builder takes his time; the scale is there all along
            mix.let_pass(10)
        mix.counter.mood = "nonsense"
        mix.see(lambda line: line["held"] == "nonsense")
        mix.counter.mood = "well"
        mix.see(lambda line: line["held"] is None)
        mix.say("drop")

    assert mix.run(director) == 1
    assert mix.row()["outcome"] == "dropped"
