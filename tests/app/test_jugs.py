"""A jug's tag on its way from the profile to the record and to whoever draws the bench."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.shed import ASKED, Shed

from mixer.app.bench.typed_batch import TypedBatch
from mixer.app.files.folders import find
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.cli import main
from mixer.pour.inputs import Key
from mixer.pour.jugs import NONE_ASKED


def shed_with_tags(folder: Path) -> Shed:
    mine = folder / "mine.toml"
    profile = find("resins", "sample-36").read_text(encoding="utf-8")
    for name in ("resin", "hardener"):
        profile = profile.replace(f'name = "{name}"', f'name = "{name}"\ntag = "{name[0]} 17"')
    mine.write_text(profile.replace('"h 17"', '"H 17"'), encoding="utf-8")
    return Shed(folder, Request(str(mine), ASKED.size, ASKED.port, stir=ASKED.stir))


def scan(shed: Shed, tag: str) -> str:
    shed.clock.pass_s(5.0)
    shed.batch.take(Key(shed.clock.at_s, "jug", tag))
    return shed.batch.picture().say


def test_a_wrong_jug_is_said_in_the_place_of_all_else_and_heard(tmp_path: Path) -> None:
    shed = shed_with_tags(tmp_path)
    shed.resin_is_in()
    assert shed.batch.picture().tags == ("r 17", "h 17")
    assert scan(shed, "R 17") == "That is the resin's jug, and hardener is asked for: put it down."
    assert scan(shed, "h 18") == "This tag is none of mine's."
    assert shed.batch.picture().rings == 2
    assert shed.batch.picture().held is None
    assert scan(shed, "h 17") == "That is the hardener: pour."
    assert shed.batch.picture().rings == 2
    assert shed.kinds().count("jug") == 2


def test_the_last_tag_still_counts_after_the_program_was_gone(tmp_path: Path) -> None:
    shed = shed_with_tags(tmp_path)
    asked = Request(str(tmp_path / "mine.toml"), ASKED.size, ASKED.port, stir=ASKED.stir)
    shed.resin_is_in()
    scan(shed, "r 17")
    shed.start(asked)
    shed.rest(84.1, 2)
    shed.pour(84.1, 100)
    shed.rest(100, 2)
    assert shed.batch.number == 1
    assert shed.kinds()[-2:] == ["begun", "doubted"]
    opened = shed.facts()[0].data["recipe"]["components"]
    assert [component["tag"] for component in opened] == ["r 17", "H 17"]


def test_at_a_scale_with_no_cable_no_batch_begins_with_a_scan(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shed = shed_with_tags(tmp_path)
    mine = str(tmp_path / "mine.toml")
    assert main(["resin", "confirm", mine, "--ratio", "100:36", "--by", "weight"]) == 0
    order = resolve(Request(mine, "60g", "typed:"))
    shed.batch = TypedBatch(order, shed.journal, shed.clock, None)
    assert scan(shed, "r 17") == NONE_ASKED["cup"]
    assert scan(shed, "x") == "This tag is none of mine's."
    assert (shed.batch.number, shed.batch.picture().rings) == (None, 1)
    shed.go()
    assert shed.batch.number == 1
    assert scan(shed, "r 17") == "That is the resin: pour."
