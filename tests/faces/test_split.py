"""One stirred batch in several cups, by the real command at a counter scale."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support.command import Mix, one_sentence
from support.facts import fact, live, poured

from mixer.app.bench.bench import Bench
from mixer.app.bench.board import Board
from mixer.app.bench.shelf import Close
from mixer.app.life.live import look
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.cli import main
from mixer.pour.inputs import Key
from mixer.record.export import row_of, rows_of
from mixer.record.journal import Journal
from mixer.record.views import batch_rows

STIR = ("--stir", "2s")


def cue(word: str) -> Any:
    return lambda line: line["cue"] == word


def stirred(mix: Mix) -> None:
    """In band and stirred."""
    mix.pour_in_band()
    mix.see(lambda line: line["stage"] == "split")


def lift(mix: Mix) -> None:
    mix.counter.grams = 0.0
    mix.see(lambda line: line["stage"] == "split" and "Put an empty cup" in line["say"])


def place(mix: Mix, grams: float) -> None:
    mix.counter.grams = grams
    mix.see(cue("share"))


def shares_and_filler(mix: Mix) -> None:
    """20 g weighed, with wet micro; by eye; 5 g typed."""
    mix.say("split")  # before the scale has said anything
    stirred(mix)
    lift(mix)
    place(mix, 6.0)
    mix.counter.grams = 26.0
    mix.see(lambda line: "20.0 g. Enough?" in line["say"])
    mix.say("filler wet")
    line = mix.see(lambda line: line["cue"] == "fill")
    assert (line["component"], line["target_g"]) == ("wet micro in cup 2", 2.910382)
    mix.counter.grams = 30.4
    mix.settle(4.4)
    mix.say("go")
    mix.see(lambda line: "Cup 2: wet micro, 4.4 g." in line["say"])
    lift(mix)
    mix.say("split")
    mix.see(lambda line: "Cup 3: not weighed" in line["say"])
    mix.say("split 5g")
    mix.see(lambda line: "Cup 4: 5.0 g" in line["say"])
    mix.say("note slurry on the foam")
    mix.say("go")


def test_a_batch_is_shared_out_on_the_same_scale(mix: Mix, capsys: Any) -> None:
    assert mix.run(shares_and_filler, *STIR) == 0
    last = mix.last
    assert (last["stage"], last["cup"], last["verdict"]) == ("live", 1, "in-band")
    assert last["cups"] == [
        {"cup": 1, "g": None, "fillers": []},
        {"cup": 2, "g": 20.0, "fillers": [{"name": "wet micro", "g": 4.4}]},
        {"cup": 3, "g": None, "fillers": []},
        {"cup": 4, "g": 5.0, "fillers": []},
    ]
    rows = mix.rows()
    assert [row["cup"] for row in rows] == ["1", "2", "3", "4"]
    assert [row["cups"] for row in rows] == ["1 of 4", "2 of 4", "3 of 4", "4 of 4"]
    assert [row["resin_g"] for row in rows] == ["36.8", "", "", ""]
    assert [row["share_g"] for row in rows] == ["", "20", "", "5"]
    weights = [row["share_weights"] for row in rows]
    assert weights == ["not weighed", "scale", "not weighed", "typed"]
    assert {row["ratio_actual"] for row in rows} == {rows[0]["ratio_actual"]}
    assert {row["opened_utc"] for row in rows} == {rows[0]["opened_utc"]}
    filled = [rows[1][key] for key in ("filler", "filler_g", "filler_weights")]
    assert filled == ["wet micro", "4.4", "scale"]

    record = ("--record", str(mix.record))
    assert main(["record", "verify", *record]) == 0
    assert main(["close", "2", "--left", "3g", *record]) == 0
    assert main(["close", "1", "--used-up", *record]) == 0
    assert [row["outcome"] for row in mix.rows()] == ["closed", "closed", "live", "live"]
    assert main(["close", "9", "--used-up", *record]) == 2
    assert "live cups: 3, 4." in capsys.readouterr().err
    for cup in ("3", "4"):
        assert main(["close", cup, "--discard", *record]) == 0
    capsys.readouterr()
    assert main(["record", "show", "1", *record]) == 0
    shown = capsys.readouterr().out
    assert "Batch 1: in-band, closed" in shown
    assert "  cup 2: 20 g (weighed), wet micro 4.4 g, closed at " in shown
    assert "(left, 3 g left)" in shown
    assert "  cup 3: share not weighed, up to 26.0" not in shown
    assert "a share of cup 1 is in cup 2: 20 g (the scale said “26.0 g”)" in shown
    assert main(["record", "list", *record]) == 0
    assert "closed  [4 cups]" in " ".join(capsys.readouterr().out.split("  ")).replace(" [", "  [")
    assert [row["left_g"] for row in mix.rows()] == ["", "3", "", ""]
    assert main(["record", "verify", *record]) == 0


def test_who_does_not_split_ends_as_ever(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        for word in ("go", "filler wet"):
            mix.say(word)
        mix.see(lambda line: "Filler goes in after the stir" in line["say"])
        for word in ("shows 36.8", "go", "moved"):
            mix.say(word)
        mix.see(lambda line: "It is moved once it is stirred" in line["say"])
        mix.clock.skip(5)
        for word in ("go", "moved"):
            mix.say(word)
        mix.see(lambda line: "it is in a second cup now" in line["say"])

    assert mix.run(director, *STIR, "--port", "typed:") == 1
    assert {line["stage"] for line in mix.lines} == {"cup", "pour", "stir", "live"}
    assert "cups" not in mix.last
    row = mix.row()
    assert (row["verdict"], row["unproven_because"]) == ("unproven", "its weights were typed in")
    assert row["moved_utc"] > row["opened_utc"]
    assert (row["cups"], row["share_g"], row["filler"]) == ("", "", "")


def at_the_bench(mix: Mix) -> tuple[Bench, Board]:
    """Live and to be split, its weights typed."""
    board = Board(Picture())
    bench = Bench(mix.record, mix.clock, board, lambda said: None, None, None)
    bench.handle(Request(str(mix.tmp / "quick.toml"), "50g", "typed:", stir="2s"))
    for word, text in (("split", ""), ("go", ""), ("go", "36.8"), ("go", "50")):
        mix.clock.skip(5)
        bench.handle(Key(mix.clock.age_s(), word, text))
    mix.clock.skip(5)
    bench.tick(mix.clock.age_s())
    assert board.newest.stage == "split", board.newest.say
    return bench, board


def test_each_cup_is_live_at_once_and_closed_once_all_is_shared(mix: Mix) -> None:
    bench, board = at_the_bench(mix)
    for text in ("20 g", ""):
        bench.handle(Key(mix.clock.age_s(), "split", text))
    assert [cup.cup for cup in board.newest.live_cups] == [1, 2, 3]
    assert [(cup.total_ug, cup.at_most) for cup in board.newest.live_cups] == [
        (30_000_000, True),
        (20_000_000, False),
        (30_000_000, True),
    ]
    bench.handle(Key(mix.clock.age_s(), "split", "ten"))
    assert "'ten' is not a number with a unit" in board.newest.say
    bench.handle(Key(mix.clock.age_s(), "filler", "1flox 2.5g"))
    assert board.newest.say == "Cup 1: flox, 2.5 g."
    assert [cup.filler for cup in board.newest.live_cups] == ["flox", "", ""]
    assert len({round(cup.age_s) for cup in board.newest.live_cups}) == 1
    bench.handle(Close(2, "used-up", None))
    assert board.newest.say.startswith("This batch is being split: go on once all is shared")
    assert bench.exit_status is None
    mix.clock.skip(5)
    bench.handle(Key(mix.clock.age_s(), "go"))
    assert bench.exit_status == 1  # unproven: typed
    for cup in (1, 2):
        bench.handle(Close(cup, "used-up", None))
    bench.handle(Close(3, "share", "5 g"))
    assert [cup.cup for cup in board.newest.live_cups] == [3, 4]
    bench.handle(Close(3, "share", "500 g"))
    assert "500.0 g is more than cup 3 held" in board.newest.say
    bench.end("done")


def test_a_polite_kill_ends_the_sharing_and_the_cups_stay_live(mix: Mix) -> None:
    bench, board = at_the_bench(mix)
    bench.handle(Key(mix.clock.age_s(), "filler", "wet"))
    bench.end("interrupted SIGTERM", to_go_on=True)
    assert (bench.exit_status, board.newest.outcome) == (1, "live")
    with Journal.read(mix.record) as reader:
        kinds = [entry.kind for entry in reader.entries()]
        assert kinds[-4:] == ["live", "noted", "filled", "divided"]
        assert [cup.fills[0].mass_ug for cup in batch_rows(reader.entries())[0].cups] == [None]
        assert reader.verify().ok


def started(mix: Mix) -> tuple[Bench, Board]:
    """A program of later, on the same record."""
    board = Board(Picture())
    bench = Bench(mix.record, mix.clock, board, lambda said: None, None, None)
    bench.look_for_record()
    return bench, board


def test_how_to_share_on_is_said_after_a_kill_and_no_longer_than_it_matters(mix: Mix) -> None:
    bench, _ = at_the_bench(mix)
    bench.handle(Key(mix.clock.age_s(), "split", "20 g"))
    before = mix.record.read_bytes()
    killed, board = started(mix)
    assert mix.record.read_bytes() == before  # told by looking alone
    assert (
        "Cup 1 was being shared out when the program ended. Taken down are cup 1 with 30.0 g, cup "
        "2 with 20.0 g. What else stands there was not: go on by F2, or by cupside split 1 "
    ) in board.newest.say
    bench.handle(Key(mix.clock.age_s() + 5, "go"))
    assert started(mix)[1].newest.say.count("shared out") == 0
    bench.end("done")
    killed.end("done")


def test_sharing_that_was_cut_short_goes_on_at_the_next_start(mix: Mix) -> None:
    bench, _ = at_the_bench(mix)
    bench.end("the lid was shut")
    later, board = started(mix)
    assert "No other cup of it was taken down, nor a filler: go on by F2" in board.newest.say
    later.handle(Close(1, "share", "20 g"))  # F2
    later.handle(Close(1, "share", None))
    assert [cup.cup for cup in board.newest.live_cups] == [1, 2, 3]
    assert (
        "Taken down are cup 1 with at most 30.0 g, cup 2 with 20.0 g, cup 3 with at most 30.0 g."
    ) in started(mix)[1].newest.say
    later.end("done")


@pytest.fixture
def record(tmp_path: Path) -> str:
    """Cup 1 is live, with 60 g in it."""
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append([*poured(1), live(1)])
    return str(path)


def facts(record: str) -> int:
    with Journal.read(record) as reader:
        return reader.head()[0]


def contacts(record: str) -> list[tuple[int, object]]:
    """Each live cup, and when hardener met resin in it."""
    with Journal.read(record) as reader:
        return [(cup.cup, cup.contact) for cup in look(reader, Path(record)).cups]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["split", "9", "--into", "5g"], "Cup 9 is not live; live cups: 1."),
        (["split", "1", "--into", "40g", "--into", "30g"], "70.0 g is more than cup 1 held, 60"),
        (["split", "1", "--into", "0g"], "is nothing; give a mass above zero, or '?'."),
        (
            ["split", "1", "--into", "5"],
            "has no unit; give a mass such as '60 g' or '2 oz', or '?'",
        ),
        (["split", "1", *["--into", "?"] * 8], "8 cups at the most; batch 1 would have 9."),
        (["fill", "1", "--with", " "], "with: nothing was given"),
        (["fill", "1", "--with", "wet\nmicro"], "give one line of printable text"),
        (["move", "2"], "Cup 2 is not live; live cups: 1."),
    ],
)
def test_what_is_told_afterwards_must_fit(
    record: str, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--record", record]) == 2
    err = capsys.readouterr().err
    assert one_sentence(err)
    assert said in err
    assert facts(record) == 8


def test_a_live_cup_is_split_filled_and_moved_afterwards(
    record: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def told(*words: str) -> str:
        assert main([*words, "--record", record]) == 0
        return capsys.readouterr().out

    ((_, contact),) = contacts(record)
    assert told("split", "1", "--into", "20g", "--into", "?") == (
        "Cup 1 (batch 1) is split into cup 2 (20.0 g), cup 3 (not weighed): write the numbers on "
        "them.\n"
    )
    assert main(["fill", "2", "--with", "wet", "--mass", "4kg", "--record", record]) == 2
    assert "'4kg' is more filler than cup 2 takes; give up to 40.0 g" in capsys.readouterr().err
    assert told("fill", "2", "--with", "wet", "--mass", "4.1g") == (
        "Cup 2 (batch 1): wet micro, 4.1 g.\n"
    )
    told("fill", "3", "--with", "cotton flock")
    told("move", "1")
    assert contacts(record) == [(1, contact), (2, contact), (3, contact)]  # their clocks run on
    assert main(["split", "2", "--into", "5g", "--record", record]) == 2
    assert "has filler in it (wet micro)" in capsys.readouterr().err
    assert main(["close", "3", "--left", "41g", "--record", record]) == 0
    capsys.readouterr()
    cups = json.loads(told("record", "show", "1", "--json"))["cups"]
    assert [cup["share_g"] for cup in cups] == [None, 20, None]
    assert [cup["filler"] for cup in cups] == [None, "wet micro", "cotton flock"]
    assert [bool(cup["moved_utc"]) for cup in cups] == [True, False, False]
    assert [cup["left_g"] for cup in cups] == [None, None, 41]
    assert main(["record", "correct", "1", "--field", "left", "--value", "1g", "--reason", "seen",
                 "--record", record]) == 2  # fmt: skip
    assert "it was split, and each of its 3 cups has its own" in capsys.readouterr().err


def test_the_last_cup_closes_the_batch(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    for words in (
        ("split", "1", "--into", "20g"),
        ("close", "1", "--left", "9g"),
        ("split", "2", "--into", "5g"),
        ("close", "2", "--used-up"),
        ("close", "3", "--left", "2g"),
        ("record", "verify"),
    ):
        assert main([*words, "--record", record]) == 0
    with Journal.read(record) as reader:
        assert [entry.kind for entry in reader.entries()][8:] == [
            *("shared", "emptied", "shared", "emptied", "closed")
        ]
        (row,) = batch_rows(reader.entries())
        assert row.outcome == "closed"
        assert [(cup.of, cup.mass_ug, cup.left_ug) for cup in row.cups] == [
            (None, 40_000_000, 9_000_000),
            (1, 15_000_000, None),
            (2, 5_000_000, 2_000_000),
        ]
        assert row_of(row)["left_g"] == 11


def rows(record: str) -> list[dict[str, Any]]:
    with Journal.read(Path(record)) as reader:
        return rows_of(batch_rows(reader.entries())[0])


def correct(record: str, field: str, value: str) -> int:
    words = ["record", "correct", "1", "--field", field, "--value", value, "--reason", "misread"]
    return main([*words, "--record", record])


def test_a_share_may_go_into_another_layup(record: str, capsys: pytest.CaptureFixture[str]) -> None:
    split = ["split", "1", "--into", "30g", "--layup", "rib 4", "--record", record]
    assert main(split) == 0
    assert main(["split", "1", "--into", "5g", "--record", record]) == 0
    assert correct(record, "layup-3", "rib 5") == 0
    assert [row["layup"] for row in rows(record)] == [rows(record)[0]["layup"], "rib 4", "rib 5"]
    assert rows(record)[0]["layup"] not in ("rib 4", "rib 5")
    assert [row["plies"] for row in rows(record)[1:]] == [None, None]
    seen = ["record", "temperature", "--layup", "rib 4", "--air", "21 degC", "--record", record]
    assert main(seen) == 0
    assert correct(record, "layup-2", "unknown") == 0
    assert rows(record)[1]["layup"] == rows(record)[0]["layup"]
    capsys.readouterr()
    assert main(["record", "show", "1", "--record", record]) == 0
    shown = capsys.readouterr().out
    assert "is in cup 2: 30 g (typed in); for rib 4" in shown
    assert "cup 3: 5 g (typed in), for rib 5" in shown
    assert "layup-2: rib 4 -> unknown; because: misread" in shown
    assert main(["record", "verify", "--record", record]) == 0


def test_a_share_that_was_typed_wrong_is_corrected_and_one_that_was_weighed_is_not(
    record: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for mass in ("30g", "?"):
        assert main(["split", "1", "--into", mass, "--record", record]) == 0
    assert main(["split", "2", "--into", "10g", "--record", record]) == 0
    assert correct(record, "share-2", "20 g") == 0
    assert correct(record, "share-3", "15 g") == 0
    assert [row["share_g"] for row in rows(record)] == [25, 10, 15, 10]
    assert correct(record, "share-3", "unknown") == 0
    weights = [row["share_weights"] for row in rows(record)]
    assert weights == ["not weighed", "typed", "not weighed", "typed"]
    before = facts(record)
    capsys.readouterr()
    for value, said in (
        ("62g", "share-2: with '62g' cup 1 would have given away more than it held"),
        ("5g", "share-2: with '5g' cup 2 would have given away more than it held"),
        ("0g", "is nothing; give a mass above zero, or unknown."),
        ("20g", "is 20 g already; nothing was changed."),
    ):
        assert correct(record, "share-2", value) == 2
        err = capsys.readouterr().err
        assert one_sentence(err)
        assert said in err
    assert correct(record, "share-1", "20g") == 2  # the batch's own cup is what is left
    assert "accepted are" in capsys.readouterr().err
    assert facts(record) == before


def test_no_correction_changes_a_share_that_the_scale_weighed(
    record: str, capsys: pytest.CaptureFixture[str]
) -> None:
    share = {"cup": 2, "of": 1, "mass_ug": 30_000_000, "weights": "scale"}
    forged = {"field": "share-2", "was": 30_000_000, "value": 1, "reason": "so"}
    with Journal.open(Path(record)) as journal:
        journal.append(
            [fact("shared", 1, 170_000, **share), fact("corrected", 1, 180_000, **forged)]
        )
    assert [row["share_g"] for row in rows(record)] == [30, 30]
    assert correct(record, "share-2", "20 g") == 2
    assert "share-2 of batch 1 was weighed by a scale and is not corrected" in (
        capsys.readouterr().err
    )
