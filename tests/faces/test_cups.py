"""Live cups: a number that no other has, and a clock that runs on."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.command import Mix, TestClock
from support.facts import live, poured

from mixer.app.bench.shop import Shop
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal


def test_a_second_program_is_told_so_while_a_batch_is_made(
    mix: Mix,
) -> None:
    refused: list[str] = []

    def director(mix: Mix) -> None:
        mix.pour_the_resin()
        with Journal.open(mix.record, busy_s=0.05) as other:
            for write in (other.claim, lambda: other.append([*poured(batch=2), live(batch=2)])):
                with pytest.raises(RecordError) as said:
                    write()
                refused.append(said.value.say)
        mix.say("drop")

    mix.run(director)
    for sentence in refused:
        assert sentence.startswith("Another cupside is writing to the record")
    with Journal.open(mix.record) as other:  # and then it is free
        other.append([*poured(batch=2), live(batch=2)])
        assert other.verify().ok


def test_a_batch_is_refused_while_another_program_makes_one(mix: Mix) -> None:
    with Journal.open(mix.record) as other:
        other.append([*poured(1), live(1)])
        other.claim()
        assert mix.run() == 2
        assert "Another cupside is writing to the record" in mix.err
        assert other.verify().facts == 8


def test_a_cup_gets_a_number_that_no_live_one_has(mix: Mix) -> None:
    with Journal.open(mix.record) as other:
        other.append([*poured(1), live(1)])

    def director(mix: Mix) -> None:
        mix.pour_in_band()
        mix.clock.skip(120)

    assert mix.run(director) == 0
    assert (mix.last["batch"], mix.last["cup"]) == (2, 2)


def test_the_age_of_a_live_cup_runs_on_when_nothing_else_happens(tmp_path: Path) -> None:
    record, clock = tmp_path / "record", TestClock()
    with Journal.open(record) as journal:
        journal.append([*poured(), live()])
    shop = Shop(record, clock=clock)
    shop.start_up()
    try:
        first = shop.wait(0, 10)
        clock.skip(100)
        later = shop.wait(first.serial, 10)
        assert later.live_cups[0].cup == 1
        assert later.live_cups[0].age_s >= first.live_cups[0].age_s + 100
    finally:
        shop.stop("done")
