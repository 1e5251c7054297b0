"""What is done to the file while it is written to: nothing counts that is not there."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from support.facts import fact, live, poured

from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.mending import mend
from mixer.record.trace import Sample

TRIGGERS = {
    "swallowed": "BEFORE INSERT ON facts BEGIN SELECT raise(IGNORE); END",
    "deleted": "AFTER INSERT ON facts BEGIN DELETE FROM facts WHERE seq = new.seq; END",
    "altered": "AFTER INSERT ON facts BEGIN UPDATE facts SET bytes = x'7b7d'; END",
    "hidden": "AFTER INSERT ON batches BEGIN DELETE FROM batches; END",
}


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        for statement in statements:
            db.execute(statement)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "record.cupside"


@pytest.mark.parametrize("how", TRIGGERS)
@pytest.mark.parametrize("claimed", [True, False])
def test_a_trigger_in_mid_pour_is_told_and_nothing_counts(
    path: Path, how: str, claimed: bool
) -> None:
    with Journal.open(path) as journal:
        if claimed:
            journal.claim()
        journal.append(poured())
        change(path, f"CREATE TRIGGER away {TRIGGERS[how]}")
        for _ in range(2):
            with pytest.raises(RecordError, match=r"how its tables are to be read.*\.$"):
                journal.append([live()])
            with pytest.raises(RecordError, match="how its tables are to be read"):
                journal.open_batch(poured()[0])
        with pytest.raises(RecordError, match="how its tables are to be read"):
            journal.add_trace(1, [Sample(1, 1, "1 g", True)], "b")
        change(path, "DROP TRIGGER away")
        journal.append([live()])
        assert journal.verify().ok
        assert list(journal.entries()) == [*poured(), live()]


def test_a_trigger_of_another_kind_of_making_is_seen_by_what_is_missing(path: Path) -> None:
    """Whatever it is that keeps a fact out: it is not there."""
    with Journal.open(path) as journal:
        journal.append(poured())
        journal._db.execute(f"CREATE TEMP TRIGGER away {TRIGGERS['swallowed']}")
        with pytest.raises(RecordError, match=r"did not take what was to be stored.*\.$"):
            journal.append([live()])
        assert journal.verify().facts == 7


@pytest.mark.parametrize("claimed", [True, False])
@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM facts WHERE seq = 7",
        "DELETE FROM facts WHERE seq > 3",
        "DELETE FROM facts",
        "UPDATE facts SET hash = zeroblob(32) WHERE seq = 7",
        "UPDATE facts SET seq = 8 WHERE seq = 7",
    ],
)
def test_nothing_is_stored_upon_a_fact_that_is_gone(
    path: Path, statement: str, claimed: bool
) -> None:
    """The next would take its number, and its absence could not be seen."""
    with Journal.open(path) as journal:
        if claimed:
            journal.claim()
        journal.append(poured())
        change(path, statement)
        before = journal.head()
        for _ in range(2):
            with pytest.raises(RecordError, match=r"no longer holds all that was stored.*\.$"):
                journal.append([live()])
        assert journal.head() == before


def test_what_another_program_stores_meanwhile_is_no_trouble(path: Path) -> None:
    with Journal.open(path) as one, Journal.open(path) as two:
        one.append(poured(1))
        two.append([live(1)])
        mend(path, fact("mended"))
        one.append([fact("noted")])
        one.claim()
        one.append([fact("noted")])
        one.release()
        two.append(poured(2))
        assert two.verify().facts == 17


def test_a_newer_program_that_took_it_over_is_noticed(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.append(poured())
        change(path, "PRAGMA user_version = 3", "CREATE TABLE further (one INTEGER)")
        with pytest.raises(RecordError, match="newer version"):
            journal.append([live()])
