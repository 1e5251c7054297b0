"""``record list``, ``show``, ``verify``, ``backup`` and ``export``: the record looked at."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import re
import sqlite3
import subprocess
import sys
import tempfile
from hashlib import sha256
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from support.command import one_sentence, without_privileges
from support.facts import fact, live, opened, poured
from support.programs import ENV
from support.rights import as_somebody

from mixer.cli import main
from mixer.record.chain import Finding
from mixer.record.envelope import Entry
from mixer.record.export import COLUMNS
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.trace import Sample

with contextlib.closing(sqlite3.connect(":memory:")) as blank:
    blank.execute("VACUUM")
    BLANK = blank.serialize()
TYPED = ("--resin-mass=80g", "--hardener-mass=28.8g")
Capture = pytest.CaptureFixture[str]
LOOKING = (
    ["list"],
    ["list", "--json"],
    ["list", "--lot", "R-17"],
    ["show", "1"],
    ["show", "1", "--json"],
)


def corrected(batch: int, field: str, was: Any, value: Any) -> Entry:
    said = {"field": field, "was": was, "value": value, "reason": "label found"}
    return fact("corrected", batch, 10**9, **said, of_seq=1, of_kind="opened")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Batch 1 is closed, batch 2 live and corrected, batch 3 was dropped."""
    path = tmp_path / "boat.cupside"
    closed = fact("closed", at_ms=900_000, how="left", left_ug=9_000_000)
    facts = [*poured(1), live(1), fact("noted", text="warm"), closed, *poured(2), live(2, cup=2)]
    facts += [corrected(2, "resin_lot", "R-17", "R-18"), opened(3, layup=None)]
    facts += [fact("ended", 3, how="dropped", verdict="unproven", ratio_target=36)]
    with Journal.open(path) as journal:
        journal.append(facts)
    return path


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def lines(record: Path, capsys: Capture, *words: str) -> list[str]:
    capsys.readouterr()
    assert run(record, *words) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return told.out.splitlines()


def head(record: Path) -> str:
    with Journal.read(record) as journal:
        return journal.head()[1].hex()


def spoil(record: Path, statement: str, *given: object) -> None:
    with contextlib.closing(sqlite3.connect(record)) as db, db:
        db.execute(statement, given)


def test_the_list_has_a_line_for_each_batch(record: Path, capsys: Capture) -> None:
    assert lines(record, capsys, "list") == [
        "1  2024-05-01 08:00Z  invented resin  60 g  in-band   closed   rudder skin",
        "2  2024-05-01 08:00Z  invented resin  60 g  in-band   live     rudder skin  [corrected]",
        "3  2024-05-01 08:00Z  invented resin  60 g  unproven  dropped",
    ]


def test_a_lot_is_found_as_corrected(record: Path, capsys: Capture) -> None:
    (line,) = lines(record, capsys, "list", "--lot", "R-18")
    assert line.startswith("2  ")
    assert [line[0] for line in lines(record, capsys, "list", "--lot", "R-17")] == ["1", "3"]
    assert lines(record, capsys, "list", "--lot", "r") == ["No batch of this lot is recorded."]
    assert lines(record, capsys, "list", "--lot", "r", "--json") == ["[]"]


@pytest.mark.parametrize("lot", ["", " \t"])
@pytest.mark.parametrize("face", [[], ["--json"]])
def test_an_empty_lot_is_a_slip(record: Path, capsys: Capture, lot: str, face: list[str]) -> None:
    assert run(record, "list", "--lot", lot, *face) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "lot: nothing was given; give the lot as it stands on the label.\n"


def test_a_lot_that_is_no_text_is_a_slip(record: Path, capsys: Capture) -> None:
    assert run(record, "list", "--lot", os.fsdecode(b"a\xff")) == 2
    said = "lot: 'a\\udcff' was read; give the lot as it stands on the label.\n"
    assert capsys.readouterr().err == said


@pytest.mark.parametrize("words", [*LOOKING, ["verify"]], ids=" ".join)
def test_who_reads_no_further_is_told_nothing(record: Path, words: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [sys.executable, "-m", "mixer", "record", *words, "--record", str(record)],
        stdout=writing, stderr=subprocess.PIPE, text=True, check=False, env=ENV,
    )  # fmt: skip
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, "")  # as any output that nobody takes


def test_the_list_in_json_has_the_keys_of_the_table(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    (line,) = lines(record, capsys, "list", "--json")
    rows = json.loads(line)
    path = tmp_path / "table.csv"
    (said,) = lines(record, capsys, "export", "--to", str(path))
    assert said == f"Written to {path}; batches: 3; facts: 21; head: {head(record)}."
    with path.open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    assert [tuple(row) for row in rows] == [COLUMNS] * 3 == [tuple(row) for row in table]
    assert {(row["record_facts"], row["record_head"]) for row in rows} == {(21, head(record))}
    assert {(row["record_facts"], row["record_head"]) for row in table} == {("21", head(record))}
    assert (rows[0]["size_g"], rows[0]["tare_g"], rows[0]["air_c"]) == (60, 12.3, 21.5)


def test_a_batch_is_shown_whole(record: Path, capsys: Capture) -> None:
    text = "\n".join(lines(record, capsys, "show", "1"))
    for words in (
        "Batch 1: in-band, closed",
        "resin system  invented resin",
        "begun         2024-05-01T08:00:00.000Z",
        "in the cup    36.054",
        "resin         44.1 g",
        "left over     9 g",
        "Notes\n  warm",
        "1  2024-05-01 08:00:00.000  begun on a simulated bench: 60 g of invented resin asked for",
        "8  2024-05-01 08:02:40.000  live as cup 1: in-band, ratio 100 : 36.05 (target 100 : 36)",
        "10  2024-05-01 08:15:00.000  cup closed (left: 9 g)",
        "Weights in its trace: 0.",
        f"The record holds 21 facts; head {head(record)}.",
    ):
        assert words in text
    text = "\n".join(lines(record, capsys, "show", "2"))
    assert "resin lot     R-18 (corrected, see below)" in text
    assert "2024-05-12 21:46:40.000  resin_lot: R-17 -> R-18; because: label found" in text
    assert "corrects fact 1: resin_lot: R-17 -> R-18, because label found" in text


def test_a_batch_in_json_has_every_fact(record: Path, capsys: Capture) -> None:
    (line,) = lines(record, capsys, "show", "2", "--json")
    shown = json.loads(line)
    assert shown["row"]["batch"] == 2
    assert [one["seq"] for one in shown["facts"]] == list(range(11, 20))
    assert [one["kind"] for one in shown["facts"]][-2:] == ["live", "corrected"]
    assert shown["facts"][-1]["data"]["value"] == "R-18"
    assert all(set(one) == {"seq", "utc", "kind", "data", "hash"} for one in shown["facts"])
    (first,) = lines(record, capsys, "show", "1", "--json")
    prev = bytes.fromhex(json.loads(first)["facts"][-1]["hash"])
    with Journal.read(record) as journal:
        for one, (_, canonical) in zip(shown["facts"], journal.sealed(2), strict=True):
            prev = sha256(prev + canonical).digest()
            assert one["hash"] == prev.hex()


@pytest.mark.parametrize("words", [["show", "1"], ["list"], ["list", "--lot", "R-17"]])
def test_what_was_found_is_told_before_the_whole_record_is_looked_through(
    record: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    told: list[str] = []
    verify = Reader.verify

    def slow(reader: Reader, head: bytes | None = None) -> Finding:
        told.append(capsys.readouterr().out)
        return verify(reader, head)

    monkeypatch.setattr(Reader, "verify", slow)
    assert run(record, *words) == 0
    assert "rudder skin" in "".join(told)


def test_the_weights_of_its_trace_are_counted(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "boat.cupside"
    with Journal.open(path) as journal:
        journal.append(poured())
        seen = [Sample(n, n, f"{n} g", True) for n in range(3)]
        journal.add_trace(1, seen, "boot-1")
        journal.append([live()])
    text = "\n".join(lines(path, capsys, "show", "1"))
    assert "3 weights are kept as its trace" in text
    assert "Weights in its trace: 3." in text
    (line,) = lines(path, capsys, "show", "1", "--json")
    assert json.loads(line)["weights_in_trace"] == 3


NASTY = 'a\nb "c" \u202etxet\u202c \x1b[2J\x07 \u200bz\u2028' + "y" * 600


def test_nothing_that_was_typed_moves_the_cursor(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "boat.cupside"
    with Journal.open(path) as journal:
        journal.append([opened(layup=NASTY, operator=NASTY), fact("noted", text=NASTY)])
        journal.append([corrected(1, "operator", NASTY, NASTY), fact(NASTY, text=NASTY)])
    for words in LOOKING:
        told = lines(path, capsys, *words)
        assert all(line.isprintable() for line in told)
    (line,) = lines(path, capsys, "list")
    assert '  a\\nb "c" \\u202etxet\\u202c \\x1b[2J\\x07 \\u200bz\\u2028yyy' in line


def test_verify_says_whether_all_is_as_it_was_stored(record: Path, capsys: Capture) -> None:
    kept = head(record)
    (said,) = lines(record, capsys, "verify")
    assert kept in said
    (said,) = lines(record, capsys, "verify", "--head", kept.upper())
    assert said.endswith("The head given is that of its newest fact.")
    with Journal.read(record) as journal:
        older = [row[3] for row in journal.rows()][8]
    (said,) = lines(record, capsys, "verify", "--head", older.hex())
    assert said.endswith("The head given is that of fact 9; 12 facts came since.")
    (said,) = lines(record, capsys, "verify", "--head", "0" * 64)
    assert said.endswith("The head given is that of an empty record; 21 facts came since.")
    spoil(record, "DELETE FROM facts WHERE seq = 21")
    assert run(record, "verify") == 1
    assert "facts were cut off" in capsys.readouterr().out
    assert run(record, "rebuild") == 1  # what finds them knew more of it
    told = capsys.readouterr()
    assert told.out.startswith("Carried over: 20 facts; newest fact: 22; head: ")
    assert told.err.startswith("Facts from 21 on (of batch ")
    assert run(record, "verify") == 1
    assert "kept as boat.cupside-damaged" in capsys.readouterr().out
    assert run(record, "verify", "--head", kept) == 1
    assert one_sentence(capsys.readouterr().out.splitlines()[-1])
    spoil(record, "UPDATE facts SET bytes = replace(bytes, 'warm', 'cold') WHERE seq = 9")
    assert run(record, "verify") == 1
    told = capsys.readouterr()
    assert told.out.startswith("Fact 9 is not as it was stored")
    assert told.err == ""


@pytest.mark.parametrize("typed", ["", "abc", "g" * 64, "a" * 65, "a" * 1_000_000])
def test_a_head_that_is_none(record: Path, capsys: Capture, typed: str) -> None:
    assert run(record, "verify", "--head", typed) == 1  # it is not shown to be whole
    told = capsys.readouterr().err
    assert one_sentence(told)
    assert "give the 64 figures" in told
    assert len(told) < 300


@pytest.mark.parametrize("size", [0, 1, 99, 100, 4095, 4096, 5000])
def test_a_file_cut_to_almost_nothing_is_not_whole(
    record: Path, capsys: Capture, tmp_path: Path, size: int
) -> None:
    copy = tmp_path / "copy.cupside"
    assert run(record, "backup", "--to", str(copy)) == 0
    copy.write_bytes(copy.read_bytes()[:size])
    capsys.readouterr()
    assert run(copy, "verify") == 1
    assert one_sentence("".join(capsys.readouterr()))
    assert copy.stat().st_size == size


def test_with_a_head_that_is_none_nothing_is_shown_to_be_whole(
    record: Path, capsys: Capture
) -> None:
    assert run(record, "verify", "--head", "12") == 1
    assert one_sentence(capsys.readouterr().err)


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM batches WHERE batch = 2",
        "UPDATE batches SET outcome = 'closed' WHERE batch = 2",
        "UPDATE batches SET live = 0, outcome = 'open' WHERE batch = 2",
        "UPDATE batches SET ended = 'entered' WHERE batch = 2",
        "UPDATE lots SET lot = 'R-17' WHERE batch = 2 AND role = 'resin_lot'",
        "DELETE FROM lots WHERE batch = 2 AND role = 'resin_lot'",
        "INSERT INTO lots VALUES ('R-19', 2, 'hardener_lot')",
    ],
)
def test_what_would_hide_a_batch_is_found_and_built_anew(
    record: Path, capsys: Capture, statement: str
) -> None:
    """The facts stay whole; but a live cup, say, could be missed."""
    before = head(record)
    spoil(record, statement)
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert one_sentence(said)
    assert "batch 2" in said
    for words in LOOKING:
        assert run(record, *words) == 0
        assert "batch 2" in capsys.readouterr().err
    assert run(record, "rebuild") == 0
    told = capsys.readouterr()
    assert told.out.startswith("Built anew from 21 facts; head: ")
    assert told.err.startswith("Nothing was lost: what finds the facts is built anew")
    (said,) = lines(record, capsys, "verify", "--head", before)
    assert said.startswith("The chain is whole: 22 facts, head ")
    (line,) = lines(record, capsys, "list", "--lot", "R-18")
    assert line.startswith("2  ")


def test_an_index_that_hides_facts_is_found_and_built_anew(long: Path, capsys: Capture) -> None:
    with contextlib.closing(sqlite3.connect(long)) as db:
        (root,) = db.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'facts_by_batch'"
        ).fetchone()
    whole = bytearray(long.read_bytes())
    at = (root - 1) * PAGE
    whole[at + 3 : at + 5] = (int.from_bytes(whole[at + 3 : at + 5], "big") - 1).to_bytes(2, "big")
    long.write_bytes(whole)  # one entry less on its first page
    capsys.readouterr()
    assert run(long, "verify") == 1
    assert "record rebuild" in capsys.readouterr().out
    assert run(long, "rebuild") == 0
    assert run(long, "verify") == 0


def test_a_file_that_is_damaged_beside_its_facts_is_written_anew(
    long: Path, capsys: Capture
) -> None:
    whole = bytearray(long.read_bytes())
    whole[39] ^= 4  # how many of its pages are free (SQLite's file format, 1.3.9)
    long.write_bytes(whole)
    capsys.readouterr()
    assert run(long, "verify") == 1
    assert one_sentence(capsys.readouterr().out)
    assert run(long, "rebuild") == 0
    assert run(long, "verify") == 0


def test_a_record_whose_chain_is_broken_is_built_anew_as_far_as_it_is_read(
    record: Path, capsys: Capture
) -> None:
    spoil(record, "UPDATE facts SET bytes = x'7b7d' WHERE seq = 1")
    spoil(record, "DELETE FROM batches")
    assert run(record, "rebuild") == 1
    assert "What fact 1 said is not known for certain" in capsys.readouterr().err
    assert run(record, "list", "--lot", "R-18") == 0
    assert capsys.readouterr().out.startswith("2  ")


def test_a_broken_chain_stays_readable_and_is_marked(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    spoil(record, "UPDATE facts SET bytes = ? WHERE seq = 9", b"{not a fact}")
    for words in LOOKING:
        assert run(record, *words) == 0
        told = capsys.readouterr()
        assert one_sentence(told.err), words
        assert "Fact 9 is not as it was stored" in told.err
        assert "rudder skin" in told.out
        assert "--json" in words or "Something is amiss with this record" in told.out
    assert run(record, "show", "1") == 0
    assert "  9  cannot be read: These bytes are no fact" in capsys.readouterr().out
    assert run(record, "show", "1", "--json") == 0
    torn = json.loads(capsys.readouterr().out)["facts"][8]
    assert (torn["seq"], torn["kind"], torn["data"]) == (9, None, None)
    assert run(record, "export", "--to", str(tmp_path / "table.csv")) == 0
    assert one_sentence(capsys.readouterr().err)
    with (tmp_path / "table.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 3
    assert all(row["record_trouble"].startswith("Fact 9 is not as it was") for row in rows)


@pytest.mark.parametrize(
    "words",
    [
        ["record", "correct", "2", "--field=operator", "--value=CD", "--reason=typo"],
        ["record", "add", "--resin=sample-36", *TYPED, "--mixed-at=2026-01-02T10:30Z"],
        ["close", "2", "--used-up"],
    ],
    ids=" ".join,
)
def test_what_is_added_to_a_broken_chain_is_stored_and_that_is_said(
    record: Path, capsys: Capture, words: list[str]
) -> None:
    spoil(record, "UPDATE facts SET bytes = ? WHERE seq = 9", b"{not a fact}")
    assert main([*words, "--record", str(record)]) == 0
    told = capsys.readouterr()
    assert one_sentence(told.out)
    assert "Fact 9 is not as it was stored" in told.err
    with Journal.read(record) as journal:
        assert journal.head()[0] == 22


@pytest.fixture
def long(tmp_path: Path) -> Path:
    """Thirty batches, in one plain file of some thirty pages."""
    path, copy = tmp_path / "long.cupside", tmp_path / "copy.cupside"
    with Journal.open(path) as journal:
        for batch in range(1, 31):
            journal.append([*poured(batch), live(batch)])
    assert run(path, "backup", "--to", str(copy)) == 0
    return copy


PAGE = 4096


def test_whatever_page_is_lost_the_others_are_read(long: Path, capsys: Capture) -> None:
    whole, found = long.read_bytes(), []
    for start in range(2 * PAGE, len(whole), PAGE):  # the first two say what is where
        long.write_bytes(whole[:start] + bytes(PAGE) + whole[start + PAGE :])
        capsys.readouterr()
        assert run(long, "list", "--lot", "R-17") == 0
        told = capsys.readouterr()
        found.append(len(told.out.splitlines()))
        assert one_sentence(told.err) if told.err else found[-1] == 30
        assert run(long, "verify") == (1 if told.err else 0)
    assert min(found) > 25


@pytest.mark.parametrize("kept", [0.6, 0.9])
def test_of_a_file_cut_off_what_is_left_is_read(
    long: Path, capsys: Capture, tmp_path: Path, kept: float
) -> None:
    whole = long.read_bytes()
    long.write_bytes(whole[: int(kept * len(whole))])
    for words in (["list"], ["show", "1"], ["export", "--to", str(tmp_path / "table.csv")]):
        capsys.readouterr()
        assert run(long, *words) == 0
        told = capsys.readouterr()
        assert one_sentence(told.err)
        assert told.out
    assert run(long, "verify") == 1
    assert run(long, "show", "30") == 2  # it stood in the part that is lost
    assert long.stat().st_size < len(whole)  # looked at, not mended


def test_an_export_of_nothing_leaves_the_good_one_before_it(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    table = tmp_path / "table.csv"
    assert run(record, "export", "--to", str(table)) == 0
    good = table.read_bytes()
    spoil(record, "UPDATE facts SET bytes = x'7b'")
    capsys.readouterr()
    assert run(record, "export", "--to", str(table)) == 2
    assert one_sentence(capsys.readouterr().err)
    assert table.read_bytes() == good


def test_a_record_of_a_newer_program_is_readable_and_is_marked(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    spoil(record, "PRAGMA user_version = 99")
    for words in (*LOOKING, ["export", "--to", str(tmp_path / "table.csv")]):
        assert run(record, *words) == 0
        told = capsys.readouterr()
        assert one_sentence(told.err), words
        assert told.out
        assert "amiss" not in told.out, words
    capsys.readouterr()
    assert run(record, "verify") == 0
    assert "newer version" in "".join(capsys.readouterr())
    assert run(record, "rebuild") == 2
    assert "newer version" in "".join(capsys.readouterr())
    assert run(record, "correct", "1", "--field=operator", "--value=CD", "--reason=typo") == 2
    assert one_sentence(capsys.readouterr().err)


def test_a_newer_record_that_is_kept_otherwise_says_that_it_is_newer(
    record: Path, capsys: Capture
) -> None:
    spoil(record, "PRAGMA user_version = 99")
    spoil(record, "ALTER TABLE facts RENAME COLUMN hash TO sha3")
    for words in LOOKING:
        assert run(record, *words) == 2
        told = capsys.readouterr()
        assert one_sentence(told.err), words
        assert "newer version" in told.err
    assert run(record, "verify") == 1
    assert "newer version" in "".join(capsys.readouterr())


def kept_otherwise(record: Path, table: str) -> None:
    """As a newer program may keep it, with one batch that has a weight trace."""
    with Journal.open(record) as journal:
        journal.append(poured(4))
        journal.add_trace(4, [Sample(100, 5_000_000, "5.0 g", True)], "boot-1")
        journal.append([live(4, cup=4)])
    spoil(record, f"ALTER TABLE {table} RENAME TO {table}_3")
    spoil(record, "PRAGMA user_version = 3")


@pytest.mark.parametrize("table", ["facts", "traces"])
def test_a_newer_record_with_tables_of_other_names_says_that_it_is_newer(
    record: Path, table: str, capsys: Capture, tmp_path: Path
) -> None:
    kept_otherwise(record, table)
    readable = table == "traces"
    files = (["export", "--to", str(tmp_path / "t.csv")], ["backup", "--to", str(tmp_path / "c")])
    for words in (*LOOKING, *files, ["verify"]):
        status = run(record, *words)
        assert status == (0 if readable else 1 if words == ["verify"] else 2), words
        told = capsys.readouterr()
        said = told.err or told.out
        assert said.count("newer version") == 1, words
        assert not re.search("some other file|damaged|is not what fact", said), words
    assert run(record, "rebuild") == 2
    said = capsys.readouterr().err
    assert ("it can be read here" in said) is readable
    assert one_sentence(said)


def test_traces_that_a_newer_program_keeps_otherwise_are_not_told_as_none(
    record: Path, capsys: Capture
) -> None:
    kept_otherwise(record, "traces")
    assert run(record, "show", "4") == 0
    said = "Weights in its trace: kept in a way that this program does not know."
    assert said in capsys.readouterr().out
    assert run(record, "show", "4", "--json") == 0
    assert json.loads(capsys.readouterr().out)["weights_in_trace"] is None


def test_facts_that_only_a_newer_program_can_judge_are_told_once_to_be_so(
    record: Path, capsys: Capture
) -> None:
    spoil(record, "UPDATE facts SET kind = 'other' WHERE seq = 2")
    spoil(record, "PRAGMA user_version = 3")
    for words in (["verify"], ["list"]):
        run(record, *words)
        said = "".join(capsys.readouterr())
        assert said.count("newer version") == 1
        assert "From fact 2 on this program cannot judge it." in said


def test_a_lot_that_nobody_used_is_not_told_as_one_that_cannot_be_read(
    record: Path, capsys: Capture
) -> None:
    spoil(record, "PRAGMA user_version = 3")
    assert run(record, "list", "--lot", "no such lot") == 0
    none, newer = capsys.readouterr().out.splitlines()
    assert none == "No batch of this lot is found in what can be read."
    assert newer.startswith("A newer version of the program wrote this record")


def test_all_of_it_works_while_another_program_writes(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    with Journal.open(record) as other:
        other.claim()
        other.append([fact("noted", 2, text="still pouring")])
        commands = [*LOOKING, ["verify"], ["export", "--to", str(tmp_path / "table.csv")]]
        for words in (*commands, ["backup", "--to", str(tmp_path / "copy.cupside")]):
            assert lines(record, capsys, *words)
        other.release()
    assert head(tmp_path / "copy.cupside") == head(record)


def test_what_comes_while_the_record_is_read_is_left_out(
    record: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The head is that of the rows, though a batch begins between the two."""
    kept, verify = head(record), Reader.verify

    def slow(journal: Reader, *given: bytes) -> Finding:
        with Journal.open(record) as other:
            other.append(poured(4))
        return verify(journal, *given)

    monkeypatch.setattr(Reader, "verify", slow)
    rows = json.loads(lines(record, capsys, "list", "--json")[0])
    assert [row["batch"] for row in rows] == [1, 2, 3]
    assert {row["record_head"] for row in rows} == {kept}


def test_a_copy_is_a_record_with_the_same_head(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.cupside"
    (said,) = lines(record, capsys, "backup", "--to", str(copy))
    assert said == f"Copied to {copy}; facts: 21; head: {head(record)}."
    assert lines(copy, capsys, "list") == lines(record, capsys, "list")
    lines(copy, capsys, "verify", "--head", head(record))


def test_a_record_that_is_not_whole_is_not_copied_over_a_good_copy(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    copy, other = tmp_path / "copy.cupside", tmp_path / "other.cupside"
    lines(record, capsys, "backup", "--to", str(copy))
    good = copy.read_bytes()
    spoil(record, "UPDATE facts SET bytes = ? WHERE seq = 9", b"{not a fact}")
    assert run(record, "backup", "--to", str(copy)) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert "Fact 9 is not as it was stored" in told.err
    assert copy.read_bytes() == good
    assert run(record, "backup", "--to", str(other)) == 1  # what there is of it
    told = capsys.readouterr()
    assert told.out.startswith(f"Copied to {other}; facts: 21")
    assert "Fact 9 is not as it was stored" in told.err


@pytest.mark.parametrize("what", ["no folder", "folder", "the record", "a letter", "long"])
def test_a_copy_that_cannot_be_there(
    record: Path, capsys: Capture, tmp_path: Path, what: str
) -> None:
    (tmp_path / "letter").write_text("Dear Ann, " * 20)
    to = {
        "no folder": tmp_path / "no" / "copy", "folder": tmp_path, "the record": record,
        "a letter": tmp_path / "letter", "long": tmp_path / ("x" * 300),
    }[what]  # fmt: skip
    before = record.read_bytes()
    assert run(record, "backup", "--to", str(to)) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert str(to) in told.err
    assert record.read_bytes() == before
    assert (tmp_path / "letter").read_text().startswith("Dear Ann")


def test_in_a_folder_that_may_not_be_written(record: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept"
    kept.mkdir()
    copy = kept / "boat.cupside"
    assert run(record, "backup", "--to", str(copy)) == 0
    copy.chmod(0o444)
    kept.chmod(0o555)
    script = (
        "import sys; from mixer.cli import main; "
        "sys.exit(max(main(['record', *words, '--record', sys.argv[1]]) "
        "for words in (['list'], ['show', '1'], ['verify'])))"
    )
    try:
        done = subprocess.run(
            [*without_privileges(), sys.executable, "-c", script, str(copy)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    finally:
        kept.chmod(0o755)
    assert (done.returncode, done.stderr) == (0, "")
    assert "rudder skin" in done.stdout


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
@pytest.mark.parametrize(
    "words",
    [*LOOKING, ["verify"], ["correct", "1", "--field=operator", "--value=CD", "--reason=typo"]],
    ids=" ".join,
)
def test_a_folder_that_may_not_be_looked_into(
    record: Path, capsys: Capture, words: list[str]
) -> None:
    with tempfile.TemporaryDirectory() as name:
        closed = Path(name) / "closed"
        closed.mkdir()
        copy = Path(copyfile(record, closed / "boat.cupside"))
        Path(name).chmod(0o755)
        closed.chmod(0)
        try:
            with as_somebody():
                assert run(copy, *words) == (1 if words == ["verify"] else 2)
        finally:
            closed.chmod(0o755)
    assert capsys.readouterr().err == f"The record {copy} cannot be read: Permission denied.\n"


@pytest.mark.parametrize(
    "words",
    [
        *LOOKING,
        ["verify"],
        ["rebuild"],
        ["backup", "--to", "copy"],
        ["correct", "1", "--field=operator", "--value=CD", "--reason=typo"],
    ],
    ids=" ".join,
)
def test_no_record_is_made_by_looking_or_correcting(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    gone = tmp_path / "gone.cupside"
    assert run(gone, *words) == (1 if words == ["verify"] else 2)
    assert capsys.readouterr().err == f"There is no record at {gone}.\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", [b"", BLANK], ids=["empty", "blank"])
@pytest.mark.parametrize(
    "words",
    [
        ["record", "correct", "1", "--field=operator", "--value=CD", "--reason=typo"],
        ["record", "rebuild"],
        ["close", "1", "--used-up"],
    ],
    ids=" ".join,
)
def test_no_record_is_made_of_a_file_without_one(
    tmp_path: Path, capsys: Capture, words: list[str], content: bytes
) -> None:
    """Somebody's empty file, or an empty one of SQLite's."""
    path = tmp_path / "nothing"
    path.write_bytes(content)
    assert main([*words, "--record", str(path)]) == 2
    told = capsys.readouterr().err
    assert one_sentence(told)
    assert ("is an empty file" if not content else "is not a build record") in told
    assert path.read_bytes() == content
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("words", [["list"], ["show", "1"], ["verify"]], ids=" ".join)
def test_a_file_that_is_no_record(tmp_path: Path, capsys: Capture, words: list[str]) -> None:
    letter = tmp_path / "letter"
    letter.write_text("Dear Ann, " * 200)
    assert run(letter, *words) == (1 if words == ["verify"] else 2)
    assert one_sentence(capsys.readouterr().err)
    assert letter.read_text() == "Dear Ann, " * 200


def test_a_batch_that_is_not_there(record: Path, capsys: Capture) -> None:
    assert run(record, "show", "4") == 2
    told = capsys.readouterr().err
    assert told == (
        f"There is no batch 4 in the record {record}; cupside record list shows those that are "
        "there.\n"
    )


def test_a_record_without_a_batch(tmp_path: Path, capsys: Capture) -> None:
    empty = tmp_path / "empty.cupside"
    Journal.open(empty).close()
    assert lines(empty, capsys, "list") == ["No batch is recorded."]
    assert lines(empty, capsys, "list", "--json") == ["[]"]
    (said,) = lines(empty, capsys, "export", "--to", str(tmp_path / "table.csv"))
    assert said.endswith(f"batches: 0; facts: 0; head: {'0' * 64}.")


def test_every_word_of_the_record_stands_in_its_help(capsys: Capture) -> None:
    with pytest.raises(SystemExit):
        main(["record", "--help"])
    usage, _, words = capsys.readouterr().out.partition("positional arguments:")
    told = [line.split()[0] for line in words.splitlines() if re.match(r"    [a-z]", line)]
    assert "rebuild" in told
    assert "|".join(told) in usage
