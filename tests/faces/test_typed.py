"""``cupside mix --port typed:`` as a process of its own: figures in, totals out."""

from __future__ import annotations

import contextlib
import csv
import io
import signal
import time
from pathlib import Path

import pytest
from support.command import one_sentence
from support.programs import Program

from mixer.cli import main

MIX = ["--resin", "sample-36", "--size=60g", "--stir=1s", "--port", "typed:"]


def by_totals(folder: Path, *more: str) -> Program:
    """At a scale with no cable; its size and stir may be given anew."""
    return Program(*MIX, "--record", str(folder / "record.cupside"), *more)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    with contextlib.redirect_stdout(io.StringIO()):
        words = ["resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight"]
        assert main(words) == 0
    return tmp_path


def told(folder: Path, *words: str) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(["record", *words, "--record", str(folder / "record.cupside")]) == 0
    return out.getvalue()


def test_a_batch_by_totals_killed_on_the_way_and_gone_on_with(folder: Path) -> None:
    first = by_totals(folder)
    place = first.see(lambda line: line["cue"] == "place" and line["to_show_g"] == 0)
    assert "Steps of 0.1 g are assumed" in place["say"]
    first.say("go")
    resin = first.see(lambda line: line["component"] == "resin")
    assert (resin["target_g"], resin["net_g"], resin["to_show_g"]) == (44.117647, 0, 44.1)
    first.say("shows about 44")
    assert "is no weight" in first.see(lambda line: line["shows"])["say"]
    first.say("shows 44.3g")
    said = first.see(lambda line: line["shows"] == "44.3g")
    assert (said["net_g"], said["total_g"], said["cue"]) == (44.3, 44.3, "next")
    first.say("go")
    hardener = first.see(lambda line: line["component"] == "hardener")
    assert hardener["to_show_g"] == 60.2
    assert "60.0 to 60.4 g" in hardener["say"]
    assert hardener["low_g"] < hardener["target_g"] < hardener["high_g"] < 17  # of itself
    first.process.send_signal(signal.SIGKILL)
    first.end()

    second = by_totals(folder)
    again = second.see(lambda line: "goes on" in line["say"])
    assert (again["component"], again["to_show_g"], again["held"]) == ("hardener", 60.2, None)
    second.say("shows 62.0", "go")
    assert "accepted is 60.0 to 60.4 g" in second.see(lambda line: line["cue"] == "over")["say"]
    second.say("shows 60.1", "go")
    second.see(lambda line: line["stage"] == "stir")
    assert second.end() == 1  # live, and nothing that is typed is proven
    last = second.lines[-1]
    assert (last["stage"], last["batch"], last["verdict"]) == ("live", 1, "unproven")
    assert last["ratio_actual"] == pytest.approx(100 * 15.8 / 44.3)

    told(folder, "verify")
    words = ["--field", "resin_g", "--value", "44 g", "--reason", "a slip"]
    err = io.StringIO()
    with contextlib.redirect_stderr(err):
        record = ["--record", str(folder / "record.cupside")]
        assert main(["record", "correct", "1", *words, *record]) == 2
    assert "was typed as it was poured" in err.getvalue()
    assert "[typed]" in told(folder, "list")
    shown = told(folder, "show", "1")
    assert "the scale was zeroed with the empty cup on it" in shown
    assert "resin accepted: 44.3 g in all (typed in: “44.3g”)" in shown
    assert "the scale said" not in shown
    told(folder, "export", "--to", str(folder / "batches.csv"))
    with (folder / "batches.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert (row["weights"], row["verdict"], row["tare_g"]) == ("typed", "unproven", "")
    assert (row["resin_g"], row["hardener_g"], row["bench"]) == ("44.3", "15.8", "real")


def test_the_end_of_input_means_nothing_and_a_polite_kill_leaves_it_open(folder: Path) -> None:
    program = by_totals(folder)
    program.say("go")
    program.see(lambda line: line["component"] == "resin")
    assert program.process.stdin is not None
    program.process.stdin.close()
    time.sleep(0.3)
    assert program.process.poll() is None
    program.process.send_signal(signal.SIGTERM)
    assert program.end() == 1
    assert "stays open" in program.err
    assert program.lines[-1]["cue"] == "wait"  # nobody looks at the scale any more
    program = by_totals(folder)
    program.see(lambda line: "goes on" in line["say"])
    program.say("note a note", "drop")
    assert program.end() == 1
    assert program.lines[-1]["batch"] == 1
    assert "dropped" in told(folder, "list")


def test_what_is_said_when_a_batch_begins_is_not_lost_with_its_first_word(folder: Path) -> None:
    program = by_totals(folder)
    program.say("go")
    program.see(lambda line: line["component"] == "resin")
    program.process.send_signal(signal.SIGKILL)
    program.end()
    program = by_totals(folder, "--size=80g")
    program.say("go")
    program.see(lambda line: "Batch 1 was cut off; it is ended" in line["say"])
    program.say("drop")
    assert program.end() == 1


def test_dropped_before_anything_was_begun_there_is_no_batch(folder: Path) -> None:
    program = by_totals(folder)
    program.see(lambda line: line["cue"] == "place")
    program.say("drop")
    assert program.end() == 1
    assert "Nothing was begun." in program.err
    assert program.lines[-1]["batch"] is None


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--resin", "sample-28"], "sample-28 is not confirmed"),
        (["--hands-free"], "each figure is typed"),
        (["--port", "typed:5"], "port typed:"),
        (["--port", "typed:1kg"], "from 0.001 g to 100 g"),
        (["--port", "typed:nonsense"], "port typed:"),
        (["--port", "/dev/null", "--scale", "no-cable"], "has no cable"),
        (["--port", "sim:", "--scale", "no-cable"], "has no cable"),
        (["--size", "4kg"], "more than the scale may carry"),
        (["--scale", "nobody"], "nobody"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_does_not_go_together_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    record = str(folder / "record.cupside")
    assert main(["mix", *MIX, "--text", "--record", record, *more]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert one_sentence(err)


def test_the_steps_of_the_display_come_with_port_or_profile(folder: Path) -> None:
    mine = folder / "mine.toml"
    mine.write_text(
        'source = "invented"\ndialect = "none"\ncapacity = "300 g"\ndivision = "0.5 g"\n',
        encoding="utf-8",
    )
    for more, total in (
        (["--port", "typed:0.01g"], 44.12),
        (["--scale", str(mine)], 44.0),
    ):
        program = by_totals(folder, *more)
        place = program.see(lambda line: line["cue"] == "place")
        assert "assumed" not in place["say"]
        program.say("go")
        assert program.see(lambda line: line["component"])["to_show_g"] == total
        program.say("drop")
        assert program.end() == 1
