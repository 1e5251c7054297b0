"""What cures, at a bench with no batch on: told, logged, and taken up when the record grows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from support.command import TestClock
from support.facts import START, fact, live, opened

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.bench.shelf import Shelf
from mixer.app.life.cure_clock import of_batch
from mixer.app.life.curing import DAYS, glance
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.pour.inputs import Key
from mixer.record.journal import Journal
from mixer.record.views import BatchRow, Moment, batch_rows

pytestmark = pytest.mark.usefixtures("foretold")

ABOUT = resolve(Request("sample-36", "60g", "sim:")).about
HOUR_MS = 3_600_000


def cured(batch: int, how: str = "used-up", **about: Any) -> list[Any]:
    """A batch that was used up, ten minutes after it went live."""
    told = {**ABOUT, "layup": None, "air_c": 22, **about}
    closed = fact("closed", batch, 900_000, how=how, left_ug=None)
    begun = fact("begun", batch, 200_000, component=1)
    return [opened(batch, **told), begun, live(batch, cup=batch, at_ms=300_000), closed]


def moved(facts: list[Any], by_ms: int) -> list[Any]:
    """The same, so much later."""
    return [fact(one.kind, one.batch, one.at_ms + by_ms, **one.data) for one in facts]


def row(*more: Any, **about: Any) -> BatchRow:
    return batch_rows([*cured(1, **about), *more])[0]


def at(hours: float) -> Moment:
    when = START + timedelta(hours=hours)
    utc = when.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return Moment(utc, round(hours * HOUR_MS), "boot-1")


class Still(TestClock):
    """Stands so many hours after the start, until it is moved."""

    def __init__(self, hours: float) -> None:
        super().__init__()
        self.boot, self.hours = "boot-1", hours

    def age_s(self) -> float:
        return self.hours * 3600 + self._skipped_s

    def utc(self) -> str:
        return at(self.age_s() / 3600).utc


def test_what_comes_next_is_told_as_the_clock_of_the_laminate_has_it() -> None:
    (said,) = glance([row()], at(2))
    due = of_batch(row(), at(2), 22.0)["not_before"]["handling"]
    when = datetime.fromisoformat(due).astimezone()
    assert said.startswith(f"batch 1: handling not before {when:%a} {when.day} {when:%b %H:%M}, ")
    assert said.endswith("if it stays at 22 degC")


def test_a_room_of_which_nothing_was_told_of_late_is_taken_for_cold() -> None:
    for one, hours in ((row(air_c=None), 2), (row(), 26)):
        (said,) = glance([one], at(hours))
        assert said.endswith("at 5 degC assumed")


def test_the_latest_of_a_layup_counts_and_its_name_stands_there() -> None:
    early, late = row(layup="rib 3"), row(layup="rib 3", air_c=12)
    (said,) = glance([early, replace(late, batch=2)], at(2))
    assert said.startswith("rib 3: handling")
    assert said == glance([late], at(2))[0]


def test_a_batch_for_two_layups_counts_for_each_however_they_are_spelled() -> None:
    early, late = row(layup="rib 3"), row(layup="Rib 3; rib 4", air_c=12)
    said = glance([early, replace(late, batch=2)], at(2))
    (cold,) = {line.split(": ")[1] for line in glance([late], at(2))}
    assert said == (f"rib 3: {cold}", f"rib 4: {cold}")


def test_in_the_end_its_witness_cup_is_asked_for_until_it_is_logged() -> None:
    utc = at(290).utc
    warm = fact("temperature", 1, number=1, value=[25, 25], from_utc=START.isoformat(), to_utc=utc)
    assert glance([row(warm)], at(300)) == (
        "batch 1: try its witness cup, then cupside record witness",
    )
    hard = fact("witness", 1, number=1, value="hard", from_utc=utc, to_utc=utc)
    assert glance([row(warm, hard)], at(300)) == ()


def test_of_a_resin_whose_sheet_tells_no_times_nothing_is_said() -> None:
    resin = {k: v for k, v in ABOUT["profile"]["resin"].items() if k != "cure"}
    assert glance([row(profile={**ABOUT["profile"], "resin": resin})], at(2)) == ()


@pytest.mark.parametrize("word", ["tacky", "dents"])
def test_one_whose_witness_cup_is_not_hard_stays_with_the_word(word: str) -> None:
    utc = at(290).utc
    soft = fact("witness", 1, number=1, value=word, from_utc=utc, to_utc=utc)
    hard = fact("witness", 1, number=2, value="hard", from_utc=utc, to_utc=utc)
    for hours in (2, 300):
        (said,) = glance([row(soft)], at(hours))
        assert said.startswith(f"batch 1: its witness cup was {word}: it is not there")
    assert not any("witness cup was" in said for said in glance([row(soft, hard)], at(2)))


@pytest.mark.parametrize("figure", ["2 shore-d", "69.5 shore-d", "5 barcol"])
def test_a_figure_of_what_is_no_cured_epoxy_is_not_hard(figure: str) -> None:
    utc = at(290).utc
    soft = fact("witness", 1, number=1, value=figure, from_utc=utc, to_utc=utc)
    (said,) = glance([row(soft)], at(300))
    assert said.startswith(f"batch 1: its witness cup was {figure}: it is not there")


def test_what_was_tried_last_counts_and_not_what_was_told_last() -> None:
    dents = fact("witness", 1, number=1, value="dents", from_utc=at(290).utc, to_utc=at(290).utc)
    hard = fact("witness", 1, number=2, value="hard", from_utc=at(280).utc, to_utc=at(280).utc)
    (said,) = glance([row(dents, hard)], at(300))
    assert "its witness cup was dents" in said


def test_a_witness_cup_that_was_tried_too_soon_is_to_be_tried_again() -> None:
    soon = fact("witness", 1, number=1, value="hard", from_utc=at(0.1).utc, to_utc=at(0.1).utc)
    warm = fact(
        "temperature", 1, number=1, value=[25, 25], from_utc=START.isoformat(), to_utc=at(290).utc
    )
    (said,) = glance([row(warm, soon)], at(300))
    assert said == "batch 1: try its witness cup, then cupside record witness"


def test_a_time_that_one_batch_alone_has_is_told_with_the_one_that_has_none() -> None:
    resin = ABOUT["profile"]["resin"]
    handling = {k: v for k, v in resin["cure"].items() if k not in ("peel_ply", "cup_reuse")}
    profile = {**ABOUT["profile"], "resin": {**resin, "cure": handling}}
    warm = fact(
        "temperature", 1, number=1, value=[25, 25], from_utc=START.isoformat(), to_utc=at(100).utc
    )
    hard = fact("witness", 1, number=1, value="hard", from_utc=at(27).utc, to_utc=at(27).utc)
    both = replace(row(warm, hard, layup="rib 3"), batch=2)
    one = row(warm, hard, profile=profile, layup="rib 3")
    (said,) = glance([one, both], at(27.5))
    assert said.startswith("rib 3: peel ply off not before ")
    assert said.endswith("; batch 1 tells none")
    assert glance([one, both], at(300)) == ()


def test_a_layup_with_a_batch_of_which_no_time_is_known_has_none() -> None:
    resin = {k: v for k, v in ABOUT["profile"]["resin"].items() if k != "cure"}
    silent = row(profile={**ABOUT["profile"], "resin": resin}, layup="rib 3")
    known = replace(row(layup="rib 3"), batch=2)
    (said,) = glance([known, silent], at(2))
    assert said == "rib 3: no time can be told, as none is known of batch 1"


def test_of_a_batch_off_its_ratio_no_time_is_told_whatever_its_witness_cup_was() -> None:
    less = fact("accepted", 1, 290_000, component=1, net_ug=8_000_000)
    utc = at(290).utc
    hard = fact("witness", 1, number=1, value="hard", from_utc=utc, to_utc=utc)
    off = row(fact("accepted", 1, 250_000, component=0, net_ug=44_100_000), less, hard)
    right = replace(row(layup="rib 3"), batch=2)
    told = "batch 1 was weighed with 49.6 % too little hardener: it may never cure"
    for hours in (2, 300):
        (said,) = glance([right, replace(off, told={"layup": "rib 3"})], at(hours))
        assert said.startswith(f"rib 3: {told}")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append([*cured(1, layup="rib 3"), *cured(2, how="discard"), *cured(3)])
    return path


class At:
    """A bench at a record, with no batch on."""

    def __init__(self, record: Path, hours: float) -> None:
        self.clock, self.board = Still(hours), Board(Picture())
        self.bench = Bench(record, self.clock, self.board, lambda said: None, None, None)
        self.bench.look_for_record()
        self.tick()

    def tick(self) -> None:
        for _ in range(3):
            self.clock.skip(2)
            self.bench.tick(self.clock.age_s())

    @property
    def curing(self) -> tuple[str, ...]:
        return self.board.newest.curing


@pytest.fixture
def bench(record: Path) -> Iterator[At]:
    at = At(record, 2)
    yield at
    at.bench.end("done")


def test_the_bench_tells_of_the_newest_but_of_none_that_was_thrown_away(bench: At) -> None:
    assert [said.split(":")[0] for said in bench.curing] == ["batch 3", "rib 3"]


def test_a_cup_that_is_live_still_puts_off_its_layup(bench: At, record: Path) -> None:
    bench.clock.skip(3 * HOUR_MS / 1000)
    with Journal.open(record) as other:
        other.append(moved(cured(4, layup="rib 3"), 3 * HOUR_MS)[:-1])
    bench.tick()
    assert [cup.batch for cup in bench.board.newest.live_cups] == [4]
    late, early = (dict(line.split(": ") for line in bench.curing)[x] for x in ("rib 3", "batch 3"))
    assert "handling not before" in late
    assert late != early
    with Journal.open(record) as other:
        other.append(moved(cured(4, how="discard"), 3 * HOUR_MS)[-1:])
    bench.tick()
    assert bench.curing == (f"batch 3: {early}", f"rib 3: {early}")


def test_of_a_split_batch_one_cup_thrown_away_leaves_the_others(record: Path) -> None:
    *begun, closed = cured(4, how="discard", layup="skin")
    used = fact("emptied", 4, 800_000, cup=4, how="used-up", left_ug=None)
    share = fact("shared", 4, 400_000, cup=5, of=4, mass_ug=5_000_000, weights="typed")
    with Journal.open(record) as journal:
        journal.append([*begun, share, used, closed])
    bench = At(record, 2)
    assert [said.split(":")[0] for said in bench.curing] == ["skin", "batch 3", "rib 3"]
    bench.bench.end("done")


def test_the_air_is_logged_for_what_cures_and_moves_its_time(bench: At, record: Path) -> None:
    before = bench.curing
    bench.bench.handle(Key(bench.clock.age_s(), "air", "12 degC"))
    assert bench.board.newest.say == "The air is at 12 degC: the clocks of 2 follow."
    bench.tick()
    assert all(said.endswith("at 12 degC") for said in bench.curing)
    assert bench.curing != before
    with Journal.read(record) as reader:
        said = [one for one in reader.entries() if one.kind == "measured"]
    assert sorted(one.batch for one in said) == [1, 3]


def test_one_that_was_mixed_before_a_dozen_others_is_still_told_of(record: Path) -> None:
    with Journal.open(record) as journal:
        journal.append([one for n in range(4, 20) for one in cured(n, layup="skin")])
    bench = At(record, 2)
    assert [said.split(":")[0] for said in bench.curing] == ["skin", "batch 3", "rib 3"]
    bench.bench.end("done")


def test_the_room_told_of_in_a_batch_is_kept_for_what_cures_too(record: Path) -> None:
    # A program that begins with a batch, before anything was looked at.
    shelf = Shelf(record, Still(2), lambda said: None)
    assert shelf.open() == shelf.claim() == ""
    said = shelf.hear(Key(7200.0, "air", "22 degC"), on=True, number=None)
    assert said == "The air is at 22 degC: the clocks of 2 follow."
    shelf.gather(on=True)
    assert [line.split(":")[0] for line in shelf.clocks.curing.lines] == ["batch 3", "rib 3"]
    assert all(line.endswith("at 22 degC") for line in shelf.clocks.curing.lines)
    shelf.release()
    shelf.close()


def test_what_another_program_writes_is_seen_between_batches(bench: At, record: Path) -> None:
    with Journal.open(record) as other:
        other.append([*cured(4), *cured(5)[:-1]])
    bench.tick()
    assert [said.split(":")[0] for said in bench.curing[:2]] == ["batch 5", "batch 4"]
    assert [cup.batch for cup in bench.board.newest.live_cups] == [5]


def test_an_old_laminate_is_told_of_no_more(record: Path) -> None:
    at = At(record, (DAYS + 1) * 24)
    assert at.curing == ()
    at.bench.end("done")
