"""The clock of a live cup as scripts and people read it, foretold by the real process."""

from __future__ import annotations

import contextlib
import csv
import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from support.benches import EASE, FIRST, stands, together
from support.programs import Program

from mixer.app.life.cup_life import standing
from mixer.app.picture import Picture
from mixer.cli import main
from mixer.console import as_plain, run_text

TYPED = ["--resin", "sample-36", "--size=60g", "--stir=2s", "--port", "typed:"]


def told(record: Path, *words: str) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(["record", *words, "--record", str(record)]) == 0
    return out.getvalue()


def test_a_batch_is_foretold_in_a_process_of_its_own_and_the_record_has_it(tmp_path: Path) -> None:
    record, table = tmp_path / "record.cupside", tmp_path / "batches.csv"
    with contextlib.redirect_stdout(io.StringIO()):
        confirm = ["resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight"]
        assert main(confirm) == 0
    program = Program(*TYPED, "--air", "24degC", "--record", str(record))
    program.see(lambda line: line["cue"] == "place")
    program.say("go")

    def is_told(line: dict[str, Any], but: str = "") -> bool:  # late on a machine that is busy
        lasts = line.get("lasts", "")
        return lasts.startswith("60 g should last ") and lasts != but

    lasts = program.see(is_told)["lasts"]
    program.say("thick 1")
    program.see(lambda line: line["say"] == "thick: '1' is no live cup; live cups: none.")
    program.say("air 30degC")
    assert program.see(lambda line: "30 degC" in line["say"])["say"].startswith("The air is at 30")
    warmer = program.see(lambda line: is_told(line, lasts))["lasts"]
    assert warmer < lasts  # its minutes have as many digits
    program.say("shows 44.1", "go")
    program.see(lambda line: line["component"] == "hardener")
    program.say("shows 60.0", "go")
    assert program.end() == 1
    (cup,) = program.lines[-1]["live_cups"]
    low, high = cup["range_min"]
    assert low < cup["working_min"] < high
    assert (cup["cup"], cup["batch"], cup["cues"]) == (1, 1, [])
    assert 0 <= cup["age_s"] < 60
    shown = told(record, "show", "1")
    assert f"  earliest      {low} min" in shown
    assert "the air is at 30 degC (typed in: “30degC”)" in shown
    told(record, "export", "--to", str(table))
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert float(row["working_min"]) == cup["working_min"]
    assert row["runaway"] == "yes"


class FakeBench:
    """Shows these pictures, one after the other."""

    def __init__(self, pictures: list[Picture]) -> None:
        self._pictures = [replace(p, serial=i, t_s=2.0 * i) for i, p in enumerate(pictures)]

    def picture(self) -> Picture:
        return self._pictures[0]

    def wait(self, serial: int, timeout_s: float) -> Picture:
        del self._pictures[0]
        return self._pictures[0]

    def exit_status(self) -> int | None:
        return 0 if len(self._pictures) == 1 else None

    def key(self, word: str, text: str = "") -> None: ...
    def stop(self, why: str, *, to_go_on: bool = False) -> None: ...


def test_in_the_terminal_each_thing_of_a_cup_is_a_line_of_its_own_and_said_once() -> None:
    ages = (432, 433, 620, 640, 1000, 1240, 1300)
    pictures = [replace(EASE, live_cups=(stands(FIRST, age_s, warm_s=630),)) for age_s in ages]
    out = io.StringIO()
    assert run_text(FakeBench([*pictures, pictures[-1]]), out, ()) == 0
    said = [line for line in out.getvalue().splitlines() if "cup 1" in line.lower()]
    starts = ("Cup 1 should last", "Half", "Cup 1 may heat itself", "Four fifths", "The time of")
    assert len(said) == len(starts)
    assert all(line.startswith(start) for line, start in zip(said, starts, strict=True))


def test_the_cups_of_one_batch_are_spoken_of_in_one_line() -> None:
    cups = [(FIRST,), (FIRST, replace(FIRST, cup=2)), (replace(FIRST, cup=2),)]
    at = [(0, 432), (1, 433), (1, 630), (2, 640), (2, 1000)]
    pictures = [replace(EASE, live_cups=together(cups[i], age_s)) for i, age_s in at]
    out = io.StringIO()
    assert run_text(FakeBench([*pictures, pictures[-1]]), out, ()) == 0
    said = [line for line in out.getvalue().splitlines() if "cup" in line.lower()]
    starts = (
        "Cup 1 should last",
        "Half of the time of each of cups 1 and 2",
        "Four fifths of the time of cup 2",
    )
    assert len(said) == len(starts)
    assert all(line.startswith(start) for line, start in zip(said, starts, strict=True))


@pytest.mark.parametrize("picture", [EASE, replace(EASE, live_cups=())])
def test_scripts_have_the_cups_where_there_are_any(picture: Picture) -> None:
    line = as_plain(picture, over=False)
    assert ("live_cups" in line) == bool(picture.live_cups)
    if picture.live_cups:
        assert line["live_cups"][0]["range_min"] == [20.6, 27.9]


def test_a_cup_that_thickens_has_no_time_left_and_nothing_is_said_again() -> None:
    told = {name: getattr(FIRST.stands, name) for name in ("low_s", "working_s", "high_s")}
    cups = [
        replace(FIRST, age_s=age_s, stands=standing("cup 1", age_s, told, thick_s))
        for age_s, thick_s in ((640, None), (700, 690), (1300, 690))
    ]
    pictures = [replace(EASE, live_cups=(cup,)) for cup in cups]
    (line,) = as_plain(pictures[-1], over=False)["live_cups"]
    assert (line["working_min"], line["range_min"]) == (11.5, [11.5, 11.5])
    assert line["thickened_min"] == 11.5
    (before,) = as_plain(pictures[0], over=False)["live_cups"]
    assert "thickened_min" not in before
    out = io.StringIO()
    assert run_text(FakeBench([*pictures, pictures[-1]]), out, ()) == 0
    said = [line for line in out.getvalue().splitlines() if "cup 1" in line.lower()]
    assert [line[:19] for line in said] == ["Half of the time of", "Cup 1 is thickening"]
