"""What somebody may do to the file who knows how it is made."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
import rfc8785
from support.facts import fact, live, opened, poured

from mixer.record import chain
from mixer.record.envelope import GENESIS, RecordError, seal
from mixer.record.journal import Journal
from mixer.record.mending import mend


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append([opened(1, resin_lot="R-17"), *poured(1)[1:], live(1), *poured(2)])
    return path


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        for statement in statements:
            db.execute(statement)


def looked_at(path: Path) -> str:
    """What a whole look says is wrong; empty where nothing is."""
    with Journal.read(path) as reader:
        found = reader.verify()
        return reader.misled() if found.ok else found.say


BATCH_AS_BLOB = "UPDATE facts SET batch = CAST(batch AS BLOB) WHERE seq = 5"


@pytest.mark.parametrize(
    "statement",
    ["UPDATE facts SET kind = CAST(kind AS BLOB) WHERE kind = 'live'", BATCH_AS_BLOB],
    ids=["kind", "batch"],
)
def test_a_value_of_another_type_is_found(path: Path, statement: str) -> None:
    """It compares as the same, and no search finds it: a live cup would be hidden."""
    change(path, statement, "UPDATE batches SET live = 0, outcome = 'open' WHERE batch = 1")
    assert "is not as it was stored" in looked_at(path)


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO lots VALUES ('Z', 'abc', 'resin_lot')",
        "INSERT INTO lots VALUES ('Z', x'00', 'resin_lot')",
        "UPDATE batches SET live = x'01' WHERE batch = 1",
    ],
)
def test_whatever_the_tables_hold_it_is_told_and_mended(path: Path, statement: str) -> None:
    change(path, statement)
    assert "record rebuild" in looked_at(path)
    mend(path, fact("mended"))
    assert looked_at(path) == ""


@pytest.mark.parametrize(
    "what",
    [
        "facts_by_batch", "traces_by_batch", "batches", "batches_by_outcome", "lots",
        "lots_by_batch",
    ],
)  # fmt: skip
def test_a_lost_page_of_what_finds_facts_costs_nothing(path: Path, what: str) -> None:
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        select = "SELECT rootpage FROM sqlite_master WHERE name = ?"
        (page,) = db.execute(select, (what,)).fetchone()
        (size,) = db.execute("PRAGMA page_size").fetchone()
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(bytes(size))
    with Journal.read(path) as reader:
        head = reader.head()
    assert "record rebuild" in looked_at(path)
    mended = mend(path, fact("mended"))
    assert not mended.lost
    with Journal.read(path) as reader:
        assert reader.verify(head[1]).ok
        assert reader.head()[0] == head[0] + 1
    assert looked_at(path) == ""


def test_a_foreign_correction_ends_no_reading(path: Path) -> None:
    with Journal.open(path) as journal:
        journal.append([fact("corrected", field=["a"], value=1, reason="r")])
    assert looked_at(path) == ""


def test_a_trigger_that_takes_facts_away_is_found_and_nothing_written(path: Path) -> None:
    change(
        path,
        "CREATE TRIGGER away BEFORE INSERT ON facts BEGIN SELECT raise(IGNORE); END",
    )
    assert "how its tables are to be read" in looked_at(path)
    with pytest.raises(RecordError, match="how its tables are to be read"):
        Journal.open(path)


def test_a_trigger_under_another_name_is_found_too(path: Path) -> None:
    change(
        path,
        "CREATE TRIGGER away AFTER INSERT ON facts BEGIN DELETE FROM facts; END",
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET type = 'trigger' || char(0) WHERE name = 'away'",
    )
    assert "how its tables are to be read" in looked_at(path)


def forged(path: Path, seq: int, alter: Callable[[bytes], bytes]) -> None:
    """The bytes of a fact, with the hash that fits them."""
    with closing(sqlite3.connect(path)) as db, db:
        select = "SELECT bytes, prev FROM facts WHERE seq = ?"
        canonical, before = db.execute(select, (seq,)).fetchone()
        new = alter(canonical)
        db.execute(
            "UPDATE facts SET bytes = ?, hash = ? WHERE seq = ?",
            (new, sha256(before + new).digest(), seq),
        )


def test_a_fact_that_was_forged_with_its_hash_is_named_itself(path: Path) -> None:
    """The one after it still fits the fact that stood there."""
    forged(path, 5, lambda canonical: canonical.replace(b'"at_ms":', b'"at_ms":1'))
    with Journal.read(path) as reader:
        found = reader.verify()
    assert (found.bad, found.facts) == (5, 4)


@pytest.mark.parametrize("seq", [-(2**63), 1 - 2**63, -5, 0, 2**63 - 1])
def test_a_fact_put_in_under_any_number_is_found(path: Path, seq: int) -> None:
    change(
        path,
        f"INSERT INTO facts SELECT {seq}, bytes, prev, hash, batch, kind FROM facts WHERE seq = 5",
    )
    with Journal.read(path) as reader:
        found = reader.verify()
        assert len([row for row in reader.rows() if row[0] == seq]) == 1
    assert not found.ok
    assert found.bad == min(seq, 16)


def test_of_a_newer_program_it_judges_nothing_that_it_does_not_know(path: Path) -> None:
    with Journal.open(path) as journal:
        seq, head = journal.head()
    new = rfc8785.dumps({"v": 2, "seq": seq + 1, "what": "only the newer one knows"})
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(
            "INSERT INTO facts VALUES (?, ?, ?, ?, 3, 'new')",
            (seq + 1, new, head, sha256(head + new).digest()),
        )
        db.execute("PRAGMA user_version = 3")
    with Journal.read(path) as reader:
        found = reader.verify()
    assert not found.ok
    assert "cannot judge" in found.say
    assert "newer version" in found.say
    assert "altered" not in found.say


@pytest.mark.parametrize("kind", ["-lock", "-wal", "-shm", "-journal"])
def test_no_copy_goes_over_a_part_of_the_record(path: Path, kind: str) -> None:
    with Journal.open(path) as journal:
        with pytest.raises(RecordError, match="a part of the record"):
            journal.backup(path.with_name(path.name + kind))
        journal.append([live(2, cup=2)])
    assert looked_at(path) == ""


def test_who_has_claimed_it_waits_for_nobody_for_long(path: Path) -> None:
    """Whatever else has locked the file: the scale must be looked at meanwhile."""
    with Journal.open(path) as journal, closing(sqlite3.connect(path)) as other:
        journal.claim()
        waits_ms = "PRAGMA busy_timeout"
        (claimed,) = journal._db.execute(waits_ms).fetchone()
        assert claimed <= 200
        other.isolation_level = None
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(RecordError, match="another program is writing"):
            journal.append([fact("noted", text="x")])
        other.execute("ROLLBACK")
        journal.append([fact("noted", text="x")])
        journal.release()
        assert journal._db.execute(waits_ms).fetchone() == (5000,)


def rewritten(path: Path, change: Callable[[list[tuple[bytes, int, str]]], None]) -> None:
    """The facts as they are after this change of them, each in its place by new hashes."""
    with closing(sqlite3.connect(path)) as db, db:
        rows = db.execute("SELECT bytes, batch, kind FROM facts ORDER BY seq").fetchall()
        change(rows)
        prev = bytes(32)
        for seq, (canonical, batch, kind) in enumerate(rows, 1):
            here = sha256(prev + canonical).digest()
            values = (seq, canonical, prev, here, batch, kind)
            db.execute("INSERT OR REPLACE INTO facts VALUES (?, ?, ?, ?, ?, ?)", values)
            prev = here


@pytest.mark.parametrize("more", [0, 1, 250])
def test_what_a_fact_says_of_its_own_place_is_read_in_each(path: Path, more: int) -> None:
    """The last two change places, with all the hashes; then the program itself goes on."""

    def swap(rows: list[tuple[bytes, int, str]]) -> None:
        rows[-1], rows[-2] = rows[-2], rows[-1]

    with Journal.read(path) as reader:
        last, _ = reader.head()
    rewritten(path, swap)
    with Journal.open(path) as journal:
        journal.append([fact("noted", text="one more")] * more)
    assert looked_at(path).startswith(f"Fact {last - 1} is not as it was stored")


@pytest.mark.parametrize(("what", "instead"), [(b'"v":1}', b'"v":7}'), (b'"seq":', b'"seq":99')])
def test_a_fact_that_is_none_stays_found(path: Path, what: bytes, instead: bytes) -> None:
    def spoil(rows: list[tuple[bytes, int, str]]) -> None:
        canonical, *more = rows[-1]
        rows[-1] = canonical.replace(what, instead), *more

    with Journal.read(path) as reader:
        last, _ = reader.head()
    rewritten(path, spoil)
    with Journal.open(path) as journal:
        journal.append([fact("noted", text="one more")])
    assert looked_at(path).startswith(f"Fact {last} is not as it was stored")


@pytest.mark.parametrize("place", [1, 2, 7, 12])
def test_a_fact_of_another_record_in_its_place_is_the_one_that_is_named(
    path: Path, tmp_path: Path, place: int
) -> None:
    """It fits itself, and neither of its neighbours."""
    with Journal.open(tmp_path / "other") as journal:
        journal.append([fact("noted", text=f"another {n}") for n in range(14)])
    with closing(sqlite3.connect(tmp_path / "other")) as other:
        row = other.execute("SELECT * FROM facts WHERE seq = ?", (place,)).fetchone()
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("INSERT OR REPLACE INTO facts VALUES (?, ?, ?, ?, ?, ?)", row)
    assert looked_at(path).startswith(f"Fact {place} is not as it was stored")


@pytest.mark.parametrize("place", [1, 2, 7, 13])
def test_a_fact_that_was_put_in_with_its_hash_is_the_one_that_is_named(
    path: Path, place: int
) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        select = "SELECT bytes, prev, batch FROM facts WHERE seq = ?"
        canonical, prev, batch = db.execute(select, (place,)).fetchone()
        told = {**json.loads(canonical), "kind": "noted", "data": {"text": "forged"}}
        forged = rfc8785.dumps(told)
        db.execute("UPDATE facts SET seq = -seq WHERE seq >= ?", (place,))
        db.execute("UPDATE facts SET seq = 1 - seq WHERE seq < 0")
        values = (place, forged, prev, sha256(prev + forged).digest(), batch, "noted")
        db.execute("INSERT INTO facts VALUES (?, ?, ?, ?, ?, ?)", values)
    assert looked_at(path).startswith(f"Fact {place} is not as it was stored")


@pytest.mark.parametrize(
    "stations", [["shop"], ["shop", "the attic"], ["100 %"], ['the "big" one', ',"kind":"x']]
)
@pytest.mark.parametrize(
    ("column", "told"),
    [(4, 3), (5, b"notes"), (5, b'noted","seq":%d,"station":"%b"}},"kind":"noted')],
    ids=["batch", "kind", "a kind that begins within the data"],
)
def test_each_column_is_held_against_the_bytes_whatever_the_station(
    stations: list[str], column: int, told: int | bytes
) -> None:
    rows: list[chain.Row] = []
    prev = GENESIS
    for seq in range(1, 9):
        station = stations[seq % len(stations)]
        within = {"a": 1, "kind": "noted", "seq": seq, "station": station}
        one = seal(replace(fact("noted", 7, b=within), station=station), seq, prev)
        rows.append((seq, one.canonical, prev, one.hash, 7, b"noted"))
        prev = one.hash
    assert chain._whole(rows, 1, GENESIS)  # found quickly
    for at, row in enumerate(rows):
        is_long = isinstance(told, bytes) and b"%" in told
        named = json.dumps(stations[(at + 1) % len(stations)])[1:-1].encode()
        other = told % (at + 1, named) if is_long else told
        altered = [*rows[:at], (*row[:column], other, *row[column + 1 :]), *rows[at + 1 :]]
        assert chain.follow([altered]).bad == at + 1
