"""What the bench says to a scanned tag, and that nothing is changed by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.bench.tag_words import NO_CUP, NOT_YET
from mixer.app.clock import Clock
from mixer.app.files.folders import find
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.app.tags import tag_meanings
from mixer.cli import main
from mixer.plan.tags import Jug, Kit, Numbered, payload
from mixer.pour.inputs import Key
from mixer.pour.jugs import NONE_ASKED

KIT = Kit("left wing top", (1, 2, 3, 4, 7), 0.62, 300.0)


class Counter:
    """A bench at a scale with no cable, and what it says."""

    def __init__(self, tmp: Path) -> None:
        self.tmp, self.clock, self.board = tmp, Clock(), Board(Picture())
        self.bench = Bench(tmp / "record", self.clock, self.board, lambda said: None, None, None)

    def say(self, word: str, text: str = "") -> str:
        """The answer; with ``!`` before it where it is heard too."""
        before = self.board.newest.rings
        self.bench.handle(Key(self.clock.age_s(), word, text))
        after = self.board.newest
        return "!" * (after.rings - before) + after.say

    def begin(self, *tags: str) -> None:
        """A batch of a resin of the test's own, its jugs' tags in its profile."""
        text = find("resins", "sample-36").read_text(encoding="utf-8")
        for name, tag in zip(("resin", "hardener"), tags, strict=False):
            text = text.replace(f'name = "{name}"', f'name = "{name}"\ntag = "{tag}"')
        mine = self.tmp / "mine.toml"
        mine.write_text(text, encoding="utf-8")
        words = ["resin", "confirm", str(mine), "--ratio", "100:36", "--by", "weight"]
        assert main(words) == 0
        self.bench.handle(Request(str(mine), "60g", "typed:"))
        assert self.board.newest.outcome is None, self.board.newest.say


@pytest.fixture
def counter(tmp_path: Path) -> Counter:
    return Counter(tmp_path)


@pytest.mark.parametrize("on", [False, True])
def test_a_kit_and_a_numbered_tag_say_what_they_are(counter: Counter, on: bool) -> None:
    if on:
        counter.begin()
    told = "Kit left wing top: plies 1-4, 7, 0.62 m2 of 300 g/m2, dry cloth 186 g."
    assert counter.say("jug", payload(KIT)) == told
    assert "Tag 7 means nothing yet" in counter.say("jug", payload(Numbered(7)))
    tag_meanings.give(7, "kit of the left wing", tag_meanings.default_store())
    assert counter.say("jug", payload(Numbered(7)).upper()) == "Tag 7 means kit of the left wing."
    assert counter.board.newest.batch is None  # no batch is begun by a scan
    assert not (counter.tmp / "record").exists() or on


@pytest.mark.parametrize("on", [False, True])
def test_a_damaged_one_is_refused_with_the_reason_and_heard(counter: Counter, on: bool) -> None:
    if on:
        counter.begin()
    for damaged in (payload(KIT)[:-1], payload(KIT)[1:], payload(Numbered(7)).replace("c", "v", 1)):
        said = counter.say("jug", damaged)
        assert said.startswith(("!This tag did not come", "!'"))
        assert said.endswith(".")


def test_the_jugs_of_its_own_profile_go_to_the_pour(counter: Counter) -> None:
    own = payload(Jug("mine", "resin"))
    counter.begin(own, payload(Numbered(12)))
    for tag in (own, own.upper(), payload(Numbered(12))):
        assert counter.say("jug", tag) == NONE_ASKED["cup"]
    counter.say("go")
    assert counter.say("jug", own) == "That is the resin: pour."
    wrong = "!That is the hardener's jug, and resin is asked for: put it down."
    assert counter.say("jug", payload(Numbered(12))) == wrong
    assert counter.say("jug", "4006381333931") == "!This tag is none of mine's."


def test_the_jug_of_another_resin_is_said_and_heard(counter: Counter) -> None:
    other, own = payload(Jug("sample-28", "hardener")), payload(Jug("mine", "hardener"))
    assert counter.say("jug", other) == "This tag is that of sample-28's hardener."
    counter.begin()
    said = "!This tag is that of sample-28's hardener, and mine is poured: put it down."
    assert counter.say("jug", other) == said
    assert "its profile does not name it" in counter.say("jug", own)
    assert counter.say("jug", "4006381333931").startswith("The profile of mine names no tags")


def test_cards_that_are_out_of_place_say_so(counter: Counter) -> None:
    assert counter.say("usedup") == NO_CUP
    counter.begin()
    assert counter.say("next") == NOT_YET


def test_meanings_that_are_damaged_stop_nothing(counter: Counter) -> None:
    store = tag_meanings.default_store()
    store.parent.mkdir(parents=True)
    store.write_bytes(b"{")
    assert counter.say("jug", payload(Numbered(7))).startswith(f"Tag 7: {store} is damaged")
