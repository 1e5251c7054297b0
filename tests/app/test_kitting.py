"""A batch by its cloth: kits that are scanned, dry cloth upon the scale, and what go takes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from support.facts import OPENED, START, fact, live, poured
from support.minds import AtOnce
from support.shed import HandClock

from devices.readings import Reading
from mixer.app.bench import kitting
from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.bench.kit_size import Found
from mixer.app.bench.kitting import Kitting
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.app.tags import tag_meanings
from mixer.plan.tags import Kit, Numbered, payload
from mixer.pour.inputs import Key, Tick, Weighed
from mixer.record.journal import Journal
from mixer.record.views import batch_rows

FIRST, SECOND = Kit("rib 3", (1, 2), 0.5, 200.0), Kit("rib 3", (3,), 0.25, 200.0)
ASKED = Request("sample-36", "kit", "sim:", cup="paper-300", air="22 degC")
APPLY = 1 / 0.96  # of the cloth's own weight, a 25th of it lost in the cup (squeegee.toml)


class Table:
    """The bench before its cup, with a scale that the test reads out."""

    def __init__(self, record: Path, asked: Request = ASKED) -> None:
        self.clock = HandClock()
        port = Request(asked.resin, "1 g", asked.port, cup=asked.cup)
        self.kitting = Kitting(asked, resolve(port), record, self.clock, lambda said: None, [])

    def say(self, word: str, text: str = "") -> str:
        self.kitting.take(Key(self.clock.at_s, word, text))
        self.kitting.collect()
        return self.kitting.picture().say

    def scan(self, kit: Kit) -> str:
        return self.say("jug", payload(kit))

    def rest(self, mass_g: float, for_s: float = 3.0) -> str:
        for _ in range(round(for_s * 10)):
            self.clock.pass_s(0.1)
            mass_ug = round(mass_g * 10) * 100_000
            text = f"{mass_ug / 1e6:.1f} g"
            reading = Reading(mass_ug, text, "g", 100_000, True, at_s=self.clock.at_s)
            self.kitting.take(Weighed(reading))
            self.kitting.collect()
        return self.kitting.picture().say

    @property
    def taken(self) -> Found:
        self.say("go")
        assert self.kitting.taken is not None
        return self.kitting.taken


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Table:
    monkeypatch.setattr(kitting, "Seer", AtOnce)
    return Table(tmp_path / "none.cupside")


def test_kits_that_are_scanned_add_up_and_go_takes_them(table: Table) -> None:
    assert "Scan the kits" in table.say("go")
    assert table.kitting.picture().cue == "wait"
    assert "100 g of dry cloth: apply about 104 g" in table.scan(FIRST)
    said = table.scan(SECOND)
    # 150 g of cloth, as much to apply (common practice, no source) and a 25th more for the cup.
    assert "150 g of dry cloth: apply about 156 g" in said
    assert "of which about 100 g should stay" in said
    seen = table.kitting.picture()
    assert (seen.rings, seen.stage, seen.cue) == (0, "cup", "go")
    assert seen.size_ug == sum(row.target_ug or 0 for row in seen.rows)
    taken = table.taken
    assert taken.size_ug == seen.size_ug
    assert 1_000_000 <= taken.size_ug <= 150_000_000 * APPLY
    order = table.kitting.order(taken)
    assert (order.about["layup"], order.terms.size_ug) == ("rib 3", taken.size_ug)
    assert order.about["resin_system"] == "sample-36"


def test_a_kit_is_scanned_once_and_hold_begins_anew(table: Table) -> None:
    table.scan(FIRST)
    assert "Ply 1 of rib 3 was scanned already" in table.scan(FIRST)
    assert table.kitting.picture().rings == 1
    assert "Scan the kits" in table.say("hold")
    assert "100 g of dry cloth" in table.scan(FIRST)
    for text, says in (
        (payload(FIRST)[:-1], "did not come as it was printed"),
        (payload(Numbered(7)), "Tag 7 means nothing yet"),
        ("4006381333931", "is no tag of a kit"),
    ):
        assert says in table.say("jug", text)
    assert "fill is for later" in table.say("fill")
    assert table.taken.plies == "1-2"


def test_the_size_that_go_takes_stands_in_every_sentence(table: Table) -> None:
    stands = table.scan(FIRST)
    assert stands.startswith("go takes 104.1 g for rib 3 plies 1-2. 100 g of dry cloth: apply")
    for word, text in (
        ("jug", payload(FIRST)), ("jug", "cpsdx"), ("kit", "1,200 g"), ("part", ""),
        ("usedup", ""), ("next", ""),
    ):  # fmt: skip
        said = table.say(word, text)
        assert said.endswith(f" {stands}")  # with its range and all that is warned of
        assert said.count("104.1 g") == 1
    assert "go takes" not in table.say("hold")


def test_a_numbered_tag_that_hangs_on_a_kit_is_that_kit(table: Table) -> None:
    tag_meanings.give(7, payload(FIRST), tag_meanings.default_store())
    assert "100 g of dry cloth" in table.say("jug", payload(Numbered(7)))


def test_what_its_kits_say_of_the_layup_stands_in_the_record(tmp_path: Path, table: Table) -> None:
    for said, kept, other in (
        ("Rib 3", "Rib 3", False),
        ("rib 2", "rib 3", True),
        (None, "rib 3", False),
    ):
        bench = Table(tmp_path / "none.cupside", replace(ASKED, layup=said, plies="9"))
        told = bench.scan(FIRST)
        assert ("The record will say rib 3" in told) == other
        about = bench.kitting.order(bench.taken).about
        assert (about["layup"], about["plies"]) == (kept, "1-2")
    plain = Table(tmp_path / "none.cupside", replace(ASKED, layup="rib 2", plies="9"))
    plain.say("kit", "80 g")
    about = plain.kitting.order(plain.taken).about
    assert (about["layup"], about["plies"]) == ("rib 2", "9")


def test_dry_cloth_on_the_scale_is_weighed_live(table: Table) -> None:
    assert "Take it off" in table.rest(80)  # it lay there from the start
    table.rest(0)
    assert "80 g of dry cloth: apply about 84 g" in table.rest(80.2)
    assert "91 g of dry cloth" in table.rest(91)  # more is laid on
    taken = table.taken
    assert taken.size_ug == 94_700_000  # 91 g / 0.96, to a tenth and not above
    assert (taken.layup, taken.plies) == (None, None)
    assert taken.kept() == [
        {
            "layup": None,
            "plies": None,
            "cloth_ug": 91_000_000,
            "part": 1.0,
            "method": "squeegee",
            "weighed": True,
        }
    ]


def test_what_lies_there_is_what_is_sized_until_go_takes_it(table: Table) -> None:
    table.rest(0)
    assert "91 g of dry cloth" in table.rest(91)
    assert "60 g of dry cloth" in table.rest(60)  # a ply too many
    said = table.rest(0)
    assert "The scale is empty" in said
    assert (table.kitting.picture().cue, table.kitting.picture().size_ug) == ("wait", None)
    assert table.say("go") == said
    assert table.kitting.taken is None
    assert "70 g of dry cloth" in table.rest(70)
    assert table.rest(70.1) == table.rest(70)  # one step of the display is no cloth
    table.rest(0, for_s=0.2)  # lifted as go is said
    assert table.taken.kept()[0]["cloth_ug"] == 70_000_000


def test_kits_that_were_scanned_count_by_their_outlines_once_none_lies_there(table: Table) -> None:
    table.rest(0)
    table.scan(FIRST)
    assert "106 g of dry cloth" in table.rest(106)
    said = table.rest(60)  # one ply of the two: epoxy for both is not what it takes
    assert said.startswith("60.0 g is less than these kits can weigh, from 93.1 g on, 100 g by")
    assert "take off what lies there to go by their outlines" in said
    for word in ("go", "usedup", "go"):
        assert table.say(word).endswith(said)
        picture = table.kitting.picture()
        assert (table.kitting.taken, picture.cue, picture.size_ug) == (None, "wait", None)
    assert table.say("go") == said
    said = table.rest(0)
    assert said.startswith("go takes")
    assert "100 g of dry cloth" in said
    assert table.taken.kept()[0]["weighed"] is False


def test_hold_leaves_the_scans_and_the_cloth_that_lies_there_counts_for_the_next(
    table: Table,
) -> None:
    table.rest(0)
    table.scan(SECOND)  # the wrong one: half of what lies there
    assert "is there something else in it?" in table.rest(100)
    table.say("hold")
    assert "100 g of dry cloth" in table.rest(100)
    table.scan(FIRST)
    assert "something else" not in table.kitting.picture().say
    assert table.taken.kept()[0]["weighed"] is True


def test_what_was_typed_is_not_taken_off(table: Table) -> None:
    table.rest(0)
    table.rest(60)
    assert "80 g of dry cloth" in table.say("kit", "80 g")
    table.rest(0)
    assert table.taken.kept()[0]["cloth_ug"] == 80_000_000


def test_the_weight_of_scanned_kits_counts_before_their_outlines(table: Table) -> None:
    table.rest(0)
    table.scan(FIRST)
    assert "106 g of dry cloth: apply about 110 g" in table.rest(106)
    assert table.taken.kept() == [
        {
            "layup": "rib 3",
            "plies": "1-2",
            "cloth_ug": 106_000_000,
            "part": 1.0,
            "method": "squeegee",
            "weighed": True,
        }
    ]


def test_an_empty_cup_is_not_taken_for_the_kits_that_were_scanned(table: Table) -> None:
    table.rest(0)
    table.scan(FIRST)
    said = table.rest(12)
    assert "12.0 g is less than these kits can weigh, from 93.1 g on, 100 g by their" in said
    assert table.kitting.picture().rings == 1
    table.say("go")
    assert table.kitting.taken is None
    table.say("kit", "101 g")  # they were weighed elsewhere, and the cup may stay
    table.rest(12)
    assert table.taken.kept()[0]["cloth_ug"] == 101_000_000


def test_a_typed_weight_that_the_kits_cannot_have_takes_nothing_until_it_is_said_otherwise(
    table: Table,
) -> None:
    for text, says in (("5 g", "5.0 g is less than these"), ("900 g", "900 g is more than these")):
        table.scan(FIRST)
        said = table.say("kit", text)
        assert says in said
        assert "kit MASS" in said
        assert "scale" not in said  # nothing of it lies there
        table.say("go")
        assert table.kitting.taken is None
        assert "100 g of dry cloth" in table.say("kit", "100 g")
        table.say("kit", text)
        table.say("hold")
    table.scan(FIRST)
    assert table.taken.kept()[0]["weighed"] is False


def test_a_kit_that_lacks_a_ply_is_refused_or_said(table: Table) -> None:
    for number in range(1, 21):
        table.scan(Kit("cap", (number,), 0.06, 300.0))
    assert "335.0 g is less than these kits can weigh, from 336 g on" in table.say("kit", "335 g")
    said = table.say("kit", "340 g")
    assert "By its weight alone up to 2 of the 20 plies may be missing: count them." in said
    assert "missing" not in table.say("kit", "359 g")


def test_what_is_too_heavy_for_the_kits_is_said(table: Table) -> None:
    table.scan(FIRST)
    assert "is there something else in it?" in table.say("kit", "150 g")


@pytest.mark.parametrize("text", ["0g", "12 bananas", "99999 kg", "-4g", "- 4 g", ".0 g", "-"])
def test_what_is_no_weight_of_cloth_is_refused(table: Table, text: str) -> None:
    said = table.say("kit", text)
    assert said.startswith("kit: ")
    assert "; give " in said  # what a mass would be
    assert table.kitting.picture().rings == 1
    table.say("go")
    assert table.kitting.taken is None


def test_the_air_and_the_scales_own_word_are_counted(table: Table) -> None:
    table.scan(FIRST)
    cool_ug = table.kitting.picture().size_ug or 0
    table.say("air", "30 degC")
    warm_ug = table.kitting.picture().size_ug or 0
    assert 0 < warm_ug < cool_ug  # it lives shorter
    assert table.kitting.order(table.taken).about["air_c"] == 30
    assert "air: 'hot'" in table.say("air", "hot")
    table.kitting.heed(30_000_000)
    table.kitting.collect()
    assert (table.kitting.picture().size_ug or 0) <= 30_000_000


def test_what_is_left_of_a_lot_limits_what_go_takes(tmp_path: Path, table: Table) -> None:
    left = replace(ASKED, left="hardener=21.6g")
    bench = Table(tmp_path / "none.cupside", left)
    bench.scan(Kit("rib 3", (1,), 0.25, 200.0))
    said = bench.scan(Kit("rib 3", (2,), 0.5, 200.0))
    assert "by what is left of the hardener" in said
    assert bench.kitting.order(bench.taken).terms.size_ug == 52_000_000


def test_what_was_mixed_for_a_kit_today_is_said_before_go(table: Table, tmp_path: Path) -> None:
    """60 g were for both kits, 100 g of cloth and the half of 50; 60 g for the other half."""
    with Journal.open(tmp_path / "none.cupside") as journal:
        for kits in (((FIRST, 1.0), (SECOND, 0.5)), ((SECOND, 0.5),)):
            kept = Found(1, "", tuple((k, round(k.cloth_g * 1e6), part) for k, part in kits)).kept()
            batch = journal.open_batch(fact("opened", 0, **{**OPENED, "kits": kept}))
            journal.append([*poured(batch)[1:], live(batch, cup=batch)])
    table.clock.utc_at = START + timedelta(hours=23)
    said = table.scan(FIRST)
    assert said.startswith("go takes 104.1 g for rib 3 plies 1-2. 100 g of dry cloth")
    assert "Batch 1 took 48.0 g for rib 3 plies 1-2 already." in said
    said = table.scan(SECOND)
    assert "Batches 1-2 took 120.0 g for rib 3 plies 1-3 already." in said
    table.say("hold")
    assert "already" not in table.scan(Kit("rib 3", (1,), 0.2, 200.0))
    table.say("hold")
    table.clock.pass_s(2 * 3600)
    assert "already" not in table.scan(FIRST)


def test_nothing_is_begun_by_drop_and_a_scale_that_says_nothing_is_no_scale(table: Table) -> None:
    for _ in range(2):  # awake: so long at once would be a sleep
        table.clock.pass_s(3)
        table.kitting.take(Tick(table.clock.at_s))
    assert table.kitting.status == 3
    table.say("drop")
    assert (table.kitting.status, table.kitting.refusal) == (1, "Nothing was begun.")


class Shop:
    """A whole bench at one record, started anew as often as the test likes."""

    def __init__(self, record: Path) -> None:
        self.record, self.clock = record, HandClock()
        self.start()

    def start(self) -> None:
        self.board = Board(Picture())
        self.bench = Bench(self.record, self.clock, self.board, lambda said: None, None, None)
        self.bench.look_for_record()
        self._on = True

    def end(self, why: str, *, to_go_on: bool = False) -> None:
        if self._on:
            self.bench.end(why, to_go_on)
        self._on = False

    def say(self, word: str, text: str = "") -> None:
        self.clock.pass_s(1)
        self.bench.handle(Key(self.clock.at_s, word, text))
        self.bench.tick(self.clock.at_s)

    def ask(self) -> None:
        self.bench.handle(ASKED)
        self.bench.tick(self.clock.at_s)

    def weigh(self, mass_g: float, for_s: float = 3) -> Picture:
        for _ in range(round(for_s * 10)):
            self.clock.pass_s(0.1)
            mass_ug = round(mass_g * 1e6)
            text = f"{mass_g} g"
            self.bench.handle(Reading(mass_ug, text, "g", 100_000, True, at_s=self.clock.at_s))
            self.bench.tick(self.clock.at_s)
        return self.board.newest


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    monkeypatch.setattr(kitting, "Seer", AtOnce)
    made = Shop(tmp_path / "boat.cupside")
    yield made
    made.end("done")


def test_a_batch_by_its_kits_stands_in_the_record_and_goes_on_by_the_same_words(
    shop: Shop,
) -> None:
    for _ in range(2):  # with no batch on: kept for the next, and once
        shop.say("jug", payload(FIRST))
    shop.ask()
    assert "100 g of dry cloth" in shop.board.newest.say
    assert shop.board.newest.batch is None
    shop.say("go")
    shop.weigh(0)
    size_ug = shop.weigh(12).size_ug
    assert (shop.board.newest.batch, shop.board.newest.stage) == (1, "pour")
    shop.end("killed", to_go_on=True)

    shop.start()
    shop.ask()
    again = shop.weigh(12)
    assert (again.batch, again.size_ug) == (1, size_ug)
    shop.end("done")
    with Journal.open(shop.record) as journal:
        (row,) = batch_rows(journal.entries(1))
    told = (row.about("layup"), row.about("plies"), row.opened["size_ug"])
    assert told == ("rib 3", "1-2", size_ug)
    assert row.opened["kits"] == [
        {
            "layup": "rib 3",
            "plies": "1-2",
            "cloth_ug": 100_000_000,
            "part": 1.0,
            "method": "squeegee",
            "weighed": False,
        }
    ]


def test_cloth_that_lies_on_the_scale_as_go_is_said_is_no_cup(shop: Shop) -> None:
    shop.ask()
    shop.weigh(0)
    assert shop.weigh(80).cue == "go"
    shop.say("go")
    assert (shop.weigh(80, 8).cue, shop.board.newest.batch) == ("clear", 1)
    assert shop.weigh(0).cue == "place"
    assert shop.weigh(12).stage == "pour"


def test_who_drops_it_or_ends_the_program_has_begun_nothing(shop: Shop) -> None:
    shop.ask()
    shop.say("drop")
    assert (shop.bench.exit_status, shop.board.newest.say) == (1, "Nothing was begun.")
    shop.ask()
    shop.weigh(0)
    shop.end("closed")
    assert shop.board.newest.say == "Nothing was begun."
    with Journal.open(shop.record) as journal:
        assert journal.head()[0] == 0
