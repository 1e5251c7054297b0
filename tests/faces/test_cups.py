"""Live cups: a number that no other has, and a clock that runs on."""

from __future__ import annotations

from pathlib import Path

from support.command import Mix, TestClock
from support.facts import live, poured

from mixer.app.shop import Shop
from mixer.record.journal import Journal


def test_a_cup_that_another_program_made_live_meanwhile_keeps_its_number(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.pour_in_band()
        with Journal.open(mix.record) as other:
            other.append([*poured(batch=2), live(batch=2, cup=1)])
        mix.clock.skip(120)

    assert mix.run(director) == 0
    assert (mix.last["batch"], mix.last["cup"]) == (1, 2)


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
