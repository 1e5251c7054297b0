"""The words of the builder, and the ways in which a pour is told to end."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys

import pytest
from support.command import Mix, one_sentence

from mixer.app.words import KNOWN
from mixer.cli import main


@pytest.mark.parametrize("name", ["SIGINT", "SIGHUP"])
def test_a_signal_in_mid_pour_ends_it_on_record(mix: Mix, name: str) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        os.kill(os.getpid(), getattr(signal, name))

    assert mix.run(director) == 1
    assert (mix.last["stage"], mix.last["batch"]) == ("ended", 1)
    row = mix.row()
    assert (row["outcome"], row["note"]) == ("interrupted", f"program ended: interrupted {name}")
    assert float(row["resin_g"]) == pytest.approx(20, abs=0.2)


def test_a_polite_kill_in_mid_pour_leaves_the_batch_open_and_says_so(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        os.kill(os.getpid(), signal.SIGTERM)

    assert mix.run(director) == 1
    assert (mix.last["stage"], mix.last["batch"], mix.last["verdict"]) == ("pour", 1, None)
    assert "Batch 1 stays open" in mix.last["say"]
    assert mix.err.strip() == mix.last["say"]
    row = mix.row()
    assert (row["outcome"], row["note"]) == ("open", "program ended: interrupted SIGTERM")


def test_a_polite_kill_before_a_batch_is_open_leaves_no_batch(mix: Mix) -> None:
    mix.counter.mood = "silent"

    def director(mix: Mix) -> None:
        mix.see(lambda line: line["stage"] == "cup")
        os.kill(os.getpid(), signal.SIGTERM)

    assert mix.run(director) == 1
    assert mix.last["stage"] == "ended"


def test_a_signal_that_was_ignored_from_the_start_stays_ignored(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.place_cup()
        os.kill(os.getpid(), signal.SIGHUP)
        mix.counter.pour(to_g=20)
        mix.say("drop")

    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        mix.run(director)
    finally:
        signal.signal(signal.SIGHUP, before)
    assert mix.row()["outcome"] == "dropped"


def test_an_output_that_nobody_reads_ends_the_pour_on_record(mix: Mix) -> None:
    reading, writing = os.pipe()

    def director(mix: Mix) -> None:
        with os.fdopen(reading, encoding="utf-8") as seen:
            for line in seen:
                if json.loads(line)["cue"] == "place":
                    mix.counter.grams = 12
                if (json.loads(line)["net_g"] or 0) > 4:
                    break
                if json.loads(line)["stage"] == "pour":
                    mix.counter.grams += 0.2

    with os.fdopen(writing, "w", encoding="utf-8") as out:
        assert mix.run(director, out=out) == 1
    assert mix.err == ""
    row = mix.row()
    assert (row["outcome"], row["note"]) == (
        "interrupted",
        "program ended: its output was closed",
    )


def test_a_terminal_that_is_closed_ends_the_pour_on_record(mix: Mix) -> None:
    master, slave = os.openpty()
    command = [
        sys.executable, "-m", "mixer", "mix", "--resin", "sample-36", "--size", "50g", "--text",
        "--port", str(mix.counter.path), "--record", str(mix.record),
    ]  # fmt: skip
    terminal = "import fcntl, sys, termios, os; fcntl.ioctl(0, termios.TIOCSCTTY, 0)"
    with subprocess.Popen(
        [sys.executable, "-c", f"{terminal}; os.execv(sys.argv[1], sys.argv[1:])", *command],
        stdin=slave, stdout=slave, stderr=subprocess.PIPE, start_new_session=True, text=True,
    ) as process:  # fmt: skip
        os.close(slave)
        seen = ""
        while "to go" not in seen:
            try:
                seen += os.read(master, 1000).decode()
            except OSError:
                raise AssertionError((seen, process.stderr.read(), process.wait())) from None
            if "Put the empty cup" in seen:
                mix.counter.grams = 12
        os.close(master)
        assert process.stderr is not None
        assert process.stderr.read() == ""
    assert process.returncode == 1
    assert mix.row()["outcome"] == "interrupted"


def test_the_end_of_input_means_nothing(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.end_of_input()
        mix.pour_20_g()
        os.kill(os.getpid(), signal.SIGINT)

    assert mix.run(director) == 1
    assert mix.row()["outcome"] == "interrupted"


@pytest.mark.parametrize("closing", ["<&-", "<&- 2>&-"])
def test_an_input_closed_from_the_start_means_nothing(mix: Mix, closing: str) -> None:
    command = (
        f"{sys.executable} -m mixer mix --resin sample-36 --size 50g --jsonl "
        f"--port {mix.counter.path} --record {mix.record} {closing}"
    )
    with subprocess.Popen(
        f"exec {command}", shell=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        stages = []
        for line in process.stdout:
            if json.loads(line)["cue"] == "place":
                mix.counter.grams = 12
            stages.append(json.loads(line)["stage"])
            if stages[-1] == "pour":
                process.send_signal(signal.SIGINT)
                break
        rest = process.stdout.readlines()
        assert rest, (stages[-3:], line, process.stderr.read(), process.wait())
        assert json.loads(rest[-1])["stage"] == "ended"
        assert process.stderr.read() == ""
    assert process.returncode == 1


def test_go_is_refused_out_of_band_and_only_resumes_from_a_hold(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.pour_the_resin()
        mix.counter.pour(to_g=52.8)
        mix.settle(4)
        mix.say("go")
        refused = mix.see(lambda line: "Not in band" in line["say"])
        assert (refused["component"], refused["held"]) == ("hardener", None)
        mix.counter.pour(to_g=62)
        mix.see(lambda line: line["cue"] == "next")
        mix.say("hold")
        mix.see(lambda line: line["held"] == "by-hand")
        mix.clock.skip(0.7)
        mix.say("go")
        mix.see(lambda line: line["held"] is None)
        resumed = mix.see(lambda line: line["cue"] == "next")
        assert (resumed["stage"], resumed["component"]) == ("pour", "hardener")
        mix.clock.skip(0.7)
        mix.say("go")
        mix.see(lambda line: line["stage"] == "stir")
        mix.say("drop")

    assert mix.run(director) == 1
    assert mix.row()["outcome"] == "dropped"


def test_what_was_poured_of_another_jug_is_said_and_stands_in_the_record(
    mix: Mix, capsys: pytest.CaptureFixture[str]
) -> None:
    def director(mix: Mix) -> None:
        mix.pour_the_resin()
        mix.counter.pour(to_g=52.8)
        mix.settle(4)
        mix.say("was resin")
        said = mix.see(lambda line: "4.0 g is booked as resin" in line["say"])
        assert (said["component"], said["held"]) == ("hardener", None)
        mix.see(lambda line: line["net_g"] == 0 and line["say"].endswith("stays unproven."))
        mix.say("drop")

    assert mix.run(director) == 1
    assert mix.row()["verdict"] == "unproven"
    assert main(["record", "show", "1", "--record", str(mix.record)]) == 0
    assert "what came in the stage of one component was said to be" in capsys.readouterr().out


def test_a_batch_out_of_band_is_used_all_the_same_by_one_word_and_says_so_for_ever(
    mix: Mix, capsys: pytest.CaptureFixture[str]
) -> None:
    def director(mix: Mix) -> None:
        mix.pour_the_resin()
        mix.counter.pour(to_g=55)
        mix.settle(6.2)
        mix.say("use")
        mix.see(lambda line: line["stage"] == "stir")
        mix.clock.skip(120)

    assert mix.run(director) == 1
    row = mix.row()
    assert (row["verdict"], row["outcome"], row["ratio_actual"]) == (
        "out-of-band",
        "live",
        "16.848",
    )
    record = ["--record", str(mix.record)]
    why = ["--field", "note", "--value", "for a template only", "--reason", "asked afterwards"]
    assert main(["record", "correct", "1", *why, *record]) == 0
    assert main(["record", "show", "1", *record]) == 0
    shown = capsys.readouterr().out
    assert "used although it is out of band or without room, as the builder said" in shown
    assert "for a template only" in shown


def test_an_over_pour_without_room_is_parted_and_put_right(
    mix: Mix, capsys: pytest.CaptureFixture[str]
) -> None:
    cup = mix.tmp / "small.toml"
    told = 'source = "invented for this test"\nabout = "A small cup."\nmaterial = "paper"\n'
    cup.write_text(f'{told}volume = "205 mL"\nfill = "90 %"\nmass = "12 g"\n', encoding="utf-8")

    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.counter.pour(to_g=159)
        mix.see(lambda line: line["cue"] == "next")
        mix.say("go")
        mix.see(lambda line: line["component"] == "hardener")
        mix.counter.pour(to_g=224)  # 65 of some 52.9
        mix.see(lambda line: "part it (stir, take 36.1 g out" in line["say"])
        mix.settle(65)
        mix.say("part")
        mix.see(lambda line: line["cue"] == "stir" and line["stage"] == "pour")
        stirred = mix.see(lambda line: line["cue"] == "part")
        mix.see(lambda line: line["t"] > stirred["t"] + 1)  # a rest without the stick was seen
        mix.counter.grams = 0
        mix.see(lambda line: line["held"] == "lifted" and line["cue"] == "part")
        mix.clock.skip(2)
        mix.counter.grams = 174
        mix.see(lambda line: line["cue"] == "next")
        mix.say("go")
        more = mix.see(lambda line: line["component"] == "resin")
        mix.counter.pour(to_g=174 + more["target_g"] - more["net_g"])
        mix.see(lambda line: line["cue"] == "next" and line["component"] == "resin")
        mix.say("go")
        mix.see(lambda line: line["stage"] == "stir")

    status = mix.run(director, "--cup", str(cup), "--stir", "5s", size="200g")
    row = mix.row()
    assert (status, row["verdict"], row["parted_g"]) == (0, "in-band", "50")
    assert main(["record", "show", "1", "--record", str(mix.record)]) == 0
    shown = capsys.readouterr().out
    assert "50 g of the stirred mix taken out" in shown


def test_a_jug_that_is_taken_twice_is_said_and_stands_in_the_record(
    mix: Mix, capsys: pytest.CaptureFixture[str]
) -> None:
    quick = mix.tmp / "quick.toml"  # it was confirmed without tags
    profile = quick.read_text(encoding="utf-8")
    for name in ("resin", "hardener"):
        profile = profile.replace(f'name = "{name}"', f'name = "{name}"\ntag = "{name[0]}-17"')
    quick.write_text(profile, encoding="utf-8")

    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.say("jug R-17")
        mix.see(lambda line: line["say"] == "That is the resin: pour.")
        mix.say("jug x-17")
        mix.see(lambda line: line["say"] == "This tag is none of quick's.")
        mix.counter.pour(to_g=48.8)
        mix.see(lambda line: line["cue"] == "next")
        mix.say("go")
        mix.see(lambda line: line["component"] == "hardener")
        mix.say("jug R-17")
        twice = "That is the resin's jug, and hardener is asked for: put it down."
        assert mix.see(lambda line: line["say"] == twice)["held"] is None
        mix.counter.pour(to_g=62)
        mix.see(lambda line: line["cue"] == "next")
        mix.say("go")
        mix.see(lambda line: line["stage"] == "stir")
        mix.clock.skip(120)

    assert mix.run(director) == 1
    row = mix.row()
    assert (row["verdict"], row["jugs"]) == ("unproven", "1 of 2")
    assert row["unproven_because"] == "the jug that was scanned last is not that of the hardener"
    assert main(["record", "show", "1", "--record", str(mix.record)]) == 0
    shown = capsys.readouterr().out
    assert "the tag of the resin's jug was read: the right one" in shown
    assert "the tag of the resin's jug was read, where hardener is asked for" in shown
    assert "right jugs    1 of 2" in shown


def test_notes_reach_the_table_harmless_and_whole(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.say("note jug 2, lid was open")
        mix.say("note =HYPERLINK(1)")
        mix.say(b"note fa\xdfchen \x1b[2J\ttab")
        mix.say("note left\u200f \u202eright")
        mix.say("note")
        mix.see(lambda line: line["say"] == "A note needs words: note TEXT.")
        mix.say("note " + "x" * 501)
        mix.see(lambda line: "501 characters" in line["say"])
        mix.say("jump")
        mix.say("drop")

    assert mix.run(director) == 1
    note = mix.row()["note"]
    assert (
        note
        == "jug 2, lid was open | =HYPERLINK(1) | fa\ufffdchen  [2J tab | left\u200f \u202eright"
    )
    known = f"{KNOWN}; with no cable shows 44.3"
    assert mix.err == f"'jump' is no word here: {known}.\n"


def test_a_note_that_begins_as_a_formula_is_made_harmless(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.say("note @SUM(A1)")
        mix.say("drop")

    mix.run(director)
    assert mix.row()["note"] == "'@SUM(A1)"


def test_drop_before_the_first_weight_begins_nothing(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.counter.mood = "silent"
        mix.see(lambda line: line["held"] == "silent")
        mix.say("drop")

    mix.counter.mood = "silent"
    assert mix.run(director) == 1
    assert mix.last["say"] == "Nothing was begun."
    assert one_sentence(mix.last["say"])
    assert mix.rows() == []


def test_a_polite_kill_before_the_tare_ends_what_has_no_cup_yet(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.see(lambda line: line["cue"] == "place")
        os.kill(os.getpid(), signal.SIGTERM)

    assert mix.run(director) == 1
    assert "stays open" not in mix.last["say"]
    assert mix.row()["outcome"] == "interrupted"
