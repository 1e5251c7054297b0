"""Killed in mid-pour and started again by the same words: one batch, as if nothing had been."""

from __future__ import annotations

import contextlib
import io
import signal
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.command import Counter
from support.programs import Program

from mixer.app.files.folders import find
from mixer.cli import main
from mixer.record.journal import Journal


def on_scale(folder: Path, counter: Counter, *more: str) -> Program:
    words = ["--size=50g", "--stir=2s", "--resin", str(folder / "quick.toml")]
    words += ["--port", str(counter.path), "--record", str(folder / "record.cupside")]
    return Program(*words, *more)


@pytest.fixture
def counter(tmp_path: Path) -> Iterator[Counter]:
    quick = tmp_path / "quick.toml"
    profile = find("resins", "sample-36").read_text(encoding="utf-8")
    quick.write_text(profile.replace('drip_time = "8 s"', 'drip_time = "1 s"'), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()):
        words = ["resin", "confirm", str(quick), "--ratio", "100:36", "--by", "weight"]
        assert main(words) == 0
    scale = Counter(tmp_path / "scale")
    scale.every_s = 0.1  # a fortieth of a second in real time
    yield scale
    scale.unplug()


def pour(counter: Counter, to_g: float) -> None:
    """25 g/s, in real time."""
    while counter.grams < to_g:
        time.sleep(0.05)
        counter.grams = min(to_g, counter.grams + 1.25)


def facts(folder: Path) -> list[Any]:
    with Journal.open(folder / "record.cupside") as journal:
        assert journal.verify().ok
        return list(journal.entries())


@pytest.mark.parametrize("by", [signal.SIGKILL, signal.SIGTERM], ids=lambda by: by.name)
def test_killed_in_the_stream_and_poured_to_the_end_it_is_one_batch_in_band(
    tmp_path: Path, counter: Counter, by: signal.Signals
) -> None:
    first = on_scale(tmp_path, counter)
    first.see(lambda line: line["cue"] == "place")
    counter.grams = 30.0
    first.see(lambda line: line["component"] == "resin")
    pour(counter, to_g=66.8)
    first.see(lambda line: line["cue"] == "next")
    first.say("go")
    first.see(lambda line: line["component"] == "hardener")
    pour(counter, to_g=72.0)
    first.see(lambda line: line["net_g"] > 3)
    first.kill(by)

    second = on_scale(tmp_path, counter)
    again = second.see(lambda line: "goes on" in line["say"])
    assert (again["held"], again["component"]) == ("restarted", "hardener")
    second.see(lambda line: line["held"] is None and line["net_g"] == 5.2)
    pour(counter, to_g=80.0)
    second.see(lambda line: line["cue"] == "next")
    second.say("go")
    second.see(lambda line: line["stage"] == "live")
    assert second.end() == 0
    entries = facts(tmp_path)
    assert {entry.batch for entry in entries} == {1}
    kinds = [entry.kind for entry in entries]
    assert kinds.count("opened") == kinds.count("tared") == kinds.count("live") == 1
    assert [e.data["how"] for e in entries if e.kind == "resumed"] == ["continuous"]
    (live,) = [entry for entry in entries if entry.kind == "live"]
    assert live.data["verdict"] == "in-band"
