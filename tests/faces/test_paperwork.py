"""``close`` and ``record export``: what they do, and what they refuse."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest
from support.command import one_sentence, without_privileges
from support.facts import live, poured

from mixer.cli import main
from mixer.record.journal import Journal


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Cup 1 of batch 1 is live, with 60.0 g in it."""
    path = tmp_path / "boat.cupside"
    with Journal.open(path) as journal:
        journal.append([*poured(), live()])
    return path


def facts(record: Path) -> int:
    with Journal.open(record) as journal:
        return len(list(journal.entries()))


def row(record: Path, tmp_path: Path) -> dict[str, str]:
    table = tmp_path / "table.csv"
    assert main(["record", "export", "--to", str(table), "--record", str(record)]) == 0
    with table.open(encoding="utf-8", newline="") as file:
        (one,) = csv.DictReader(file)
    return one


@pytest.mark.parametrize(
    ("how", "closed_how", "left_g"),
    [
        (["--left", "9g"], "left", "9"),
        (["--left", "60 g"], "left", "60"),
        (["--left", "0g"], "left", "0"),
        (["--used-up"], "used-up", ""),
        (["--discard"], "discard", ""),
    ],
)
def test_a_live_cup_is_closed_once(
    record: Path, tmp_path: Path, how: list[str], closed_how: str, left_g: str
) -> None:
    assert main(["close", "1", *how, "--record", str(record)]) == 0
    told = row(record, tmp_path)
    assert (told["closed_how"], told["left_g"]) == (closed_how, left_g)
    assert told["closed_utc"]
    assert main(["close", "1", *how, "--record", str(record)]) == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["2", "--used-up"], "Cup 2 is not live; live cups: 1."),
        (["0", "--used-up"], "Cup 0 is not live; live cups: 1."),
        (["1", "--left", "60.1 g"], "more than cup 1 ever held, 60.0 g"),
        (["1", "--left=-5g"], "left: '-5g'"),
        (["1", "--left", "nan g"], "left: 'nan g'"),
        (["1", "--left", "9"], "left: '9' has no unit"),
        (["1", "--left", ""], "left: nothing was given"),
    ],
)
def test_what_cannot_be_closed_changes_nothing(
    record: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    before = facts(record)
    assert main(["close", *words, "--record", str(record)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert said in told.err
    assert facts(record) == before


def test_no_record_is_made_by_closing_or_exporting(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone.cupside"
    assert main(["close", "1", "--discard", "--record", str(gone)]) == 2
    assert main(["record", "export", "--to", str(tmp_path / "x"), "--record", str(gone)]) == 2
    assert capsys.readouterr().err.splitlines() == [f"There is no record at {gone}."] * 2
    assert list(tmp_path.iterdir()) == []


def test_an_empty_record_gives_a_table_with_its_head(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty, table = tmp_path / "empty.cupside", tmp_path / "table.csv"
    Journal.open(empty).close()
    assert main(["record", "export", "--to", str(table), "--record", str(empty)]) == 0
    assert "batches: 0" in capsys.readouterr().out
    (head,) = table.read_text(encoding="utf-8").splitlines()
    assert head.startswith("batch,cup,opened_utc,")


@pytest.mark.parametrize("what", ["no folder", "folder", "the record"])
def test_a_table_that_cannot_be_there(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    to = {"no folder": tmp_path / "no" / "x.csv", "folder": tmp_path, "the record": record}[what]
    before = record.read_bytes()
    assert main(["record", "export", "--to", str(to), "--record", str(record)]) == 2
    told = capsys.readouterr()
    assert one_sentence(told.err)
    assert str(to) in told.err
    assert record.read_bytes() == before


def test_a_folder_that_may_not_be_written(record: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir(mode=0o555)
    command = [
        *without_privileges(), sys.executable, "-m", "mixer", "record", "export",
        "--to", str(kept / "x.csv"), "--record", str(record),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert one_sentence(done.stderr)
    assert str(kept) in done.stderr


def test_an_output_on_a_full_disk_is_a_sentence() -> None:
    command = f"{sys.executable} -m mixer resin list > /dev/full"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert done.stderr == "It cannot go on. No space left on device.\n"


def test_what_was_stored_is_said_also_where_the_output_takes_nothing(tmp_path: Path) -> None:
    """Whoever is told that it cannot go on does it twice."""
    record = tmp_path / "record"
    with Journal.open(record) as journal:
        journal.append([*poured(), live()])
    words = f"record correct 1 --field operator --value CD --reason slip --record {record}"
    command = f"{sys.executable} -m mixer {words} > /dev/full"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr.endswith("Only its output could not be written: No space left on device.\n")
    assert "operator" in done.stderr
    with Journal.read(record) as reader:
        assert [entry.kind for entry in reader.entries()].count("corrected") == 1


def test_a_closed_output_is_no_stack_trace() -> None:
    command = f"{sys.executable} -m mixer resin list >&-"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
