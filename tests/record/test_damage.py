"""A sample of the campaign that turns bits all over the file and cuts file and log."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from itertools import islice
from pathlib import Path

import pytest
from benchmarks import damage

from mixer.record import journal
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

BATCHES = 4  # as many calls as there are checkpoints at


def findings(came: damage.Came) -> list[str]:
    return [what for what, outcome in came if outcome == damage.FINDING]


def test_a_turned_bit_is_found_or_changes_nothing(tmp_path: Path) -> None:
    came = damage.bits(tmp_path, damage.SAMPLE * 800)
    assert came["page of facts", damage.BROKEN] > 50
    assert came["page of lots", damage.SAME] > 0
    assert not findings(came)


def test_whatever_a_page_says_of_itself_a_rebuild_loses_no_fact(tmp_path: Path) -> None:
    came = damage.rebuilds(tmp_path, damage.SAMPLE * 8)
    assert came["rebuilt, page of facts", damage.SAME] > 10
    assert not findings(came)


def test_a_cut_costs_no_more_than_what_it_cuts(tmp_path: Path) -> None:
    came = damage.cuts(tmp_path, BATCHES, damage.SAMPLE * 60)
    assert came[damage.POWER_CUT, damage.SAME] > 10
    assert came[damage.FILE_CUT, damage.AMISS] > 5
    assert came[damage.HALF_MOVED, damage.SAME] > 5
    assert not findings(came)


def test_nothing_is_cut_where_the_journal_empties_its_own_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(journal, "LOG_MAX_BYTES", 100_000)  # not after hundreds of calls
    monkeypatch.setattr(damage, "CHECKPOINTS", {})
    came = damage.cuts(tmp_path, 2, damage.SAMPLE * 60)
    assert came[damage.HALF_MOVED, damage.SAME] > 5
    assert not findings(came)


@pytest.mark.parametrize(
    ("words", "bit"),
    [
        ("facts (seq INTEGER PR|IMARY KEY", 2),  # no number is a fact's any more
        ("facts (seq INTEGER| PRIMARY KEY", 7),
        ("batches (batch INTEGER PRIM|ARY KEY", 1),
        ("DEFAULT 'ope|n')", 0),  # no batch that is begun from here on would be found open
        ("CREATE INDEX facts_by_batch O|N facts", 7),  # SQLite's own words are no text then
    ],
)
def test_a_layout_that_was_altered_is_said_and_not_written_to(
    tmp_path: Path, words: str, bit: int
) -> None:
    path = tmp_path / "record"
    with Journal.open(path) as record:
        for call in damage.calls(1):
            damage.store(record, call)
    raw = bytearray(path.read_bytes())
    raw[raw.index(words.replace("|", "").encode()) + words.index("|")] ^= 1 << bit
    path.write_bytes(raw)
    assert damage.look(path, 1).said in (damage.BROKEN, damage.REFUSED)
    with pytest.raises(RecordError, match=r"^[^\n]*\.$"):
        Journal.open(path)
    assert path.read_bytes() == raw


def test_a_page_that_says_it_holds_more_is_not_read_round_and_round(tmp_path: Path) -> None:
    path = tmp_path / "record"
    with Journal.open(path) as record:
        for call in damage.calls(1):
            damage.store(record, call)
    with closing(sqlite3.connect(path)) as db:
        find = "SELECT max(pageno * pgsize - pgsize) FROM dbstat WHERE name = 'facts'"
        (page,) = db.execute(find).fetchone()
    raw = bytearray(path.read_bytes())
    raw[page + 3] ^= 2  # SQLite's file format, 1.6: here is how many rows a page holds
    path.write_bytes(raw)
    with Journal.read(path) as reader:
        assert not reader.verify().ok
        assert len({seq for seq, *_ in islice(reader.rows(), 5000)}) > 5
        assert len(list(islice(reader.rows(), 5000))) < 5000
