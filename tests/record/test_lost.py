"""A record from which facts were lost once: what is altered afterwards is found all the same."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from shutil import copyfile

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, poured

from mixer.cli import main
from mixer.record import chain
from mixer.record.envelope import GENESIS, seal
from mixer.record.holes import Named
from mixer.record.journal import Journal
from mixer.record.mending import mend
from mixer.record.trace import Sample

Capture = pytest.CaptureFixture[str]
PAGE, BATCHES = 4096, 9


# -- the chain by itself ---------------------------------------------------------------


def sealed(count: int) -> list[chain.Row]:
    rows: list[chain.Row] = []
    prev = GENESIS
    for seq in range(1, count + 1):
        one = seal(fact("noted", 1 + seq // 4, text=f"n {seq}"), seq, prev)
        prev = one.hash
        rows.append((seq, one.canonical, one.prev, one.hash, one.entry.batch, b"noted"))
    return rows


@dataclass(frozen=True)
class Holed:
    """What is left of a chain, and what is named as lost from it."""

    rows: list[chain.Row]
    named: list[Named]

    def follow(self, rows: Sequence[chain.Row], head: bytes | None = None) -> chain.Finding:
        chunks = [rows[at : at + 5] for at in range(0, len(rows), 5)]
        return chain.follow(chunks, head, lambda: self.named)


@st.composite
def holed(draw: st.DrawFn) -> Holed:
    count = draw(st.integers(3, 24))
    lost = draw(st.sets(st.integers(1, count - 1), min_size=1, max_size=count - 2))
    rows = [row for row in sealed(count) if row[0] not in lost]
    told = draw(st.booleans())
    ranges: list[Named] = []
    for seq in sorted(lost):
        if ranges and ranges[-1].last == seq - 1 and draw(st.booleans()):
            ranges[-1] = ranges[-1]._replace(last=seq)
        else:
            ranges.append(Named(seq, seq, 99, before(rows, seq) if told else None))
    return Holed(rows, ranges)


def before(rows: Sequence[chain.Row], number: int) -> bytes:
    """The hash of what stands before this number."""
    hashes = (row[3] for row in reversed(rows) if row[0] < number)  # type: ignore[operator]
    hash_ = next(hashes, GENESIS)
    assert isinstance(hash_, bytes)
    return hash_


@given(holed(), st.data())
def test_a_hole_that_is_named_hides_nothing_else(it: Holed, data: st.DataObject) -> None:
    found = it.follow(it.rows)
    assert found.lost
    assert not found.ok
    assert found.bad is None
    assert found.facts == it.rows[-1][0]
    index = data.draw(st.integers(0, len(it.rows) - 2))
    seq, canonical, prev, hash_, *rest = it.rows[index]
    assert it.follow(it.rows, hash_).lost  # type: ignore[arg-type]
    away = it.follow(it.rows, bytes(31) + b"!")
    assert not away.lost
    assert "No fact of the record has the head" in away.say
    assert isinstance(canonical, bytes)
    assert isinstance(prev, bytes)
    gone = [row for row in it.rows if row[0] != seq]
    taken = it.follow(gone)
    assert not taken.lost
    assert taken.bad is not None
    changed = canonical.replace(b'"n ', b'"m ')
    for forged in (hash_, sha256(prev + changed).digest()):
        rows = [*it.rows]
        rows[index] = seq, changed, prev, forged, *rest  # type: ignore[assignment]
        altered = it.follow(rows)
        alone = forged != hash_ and it.rows[index + 1][0] != seq + 1  # type: ignore[operator]
        alone = alone and it.named[0].upon is None
        assert altered.lost == alone  # the fact that stood upon it is gone: a head shows it
        assert alone or altered.bad == seq
        assert "No fact" in it.follow(rows, hash_).say or not alone  # type: ignore[arg-type]


@given(holed(), st.data())
def test_nothing_may_stand_in_a_hole_and_no_hole_be_wider(it: Holed, data: st.DataObject) -> None:
    first, last, *_ = data.draw(st.sampled_from(it.named))
    number = data.draw(st.integers(first, last))
    one = seal(fact("noted", 1, text="put in"), number, before(it.rows, number))
    row = number, one.canonical, one.prev, one.hash, one.entry.batch, b"noted"
    put_in = it.follow(sorted([*it.rows, row]))  # type: ignore[type-var]
    assert not put_in.lost
    assert put_in.bad is not None
    less = replace(it, named=[named for named in it.named if named.first != first])
    found = less.follow(it.rows)
    assert not found.lost
    assert found.bad == first


def test_what_names_the_newest_as_lost_stands_upon_what_is_left() -> None:
    rows = sealed(4)
    named = [Named(5, 6, 7)]
    for prev, lost in ((rows[-1][3], True), (bytes(31) + b"!", False)):
        assert isinstance(prev, bytes)
        one = seal(fact("mended", 0), 7, prev)
        row = 7, one.canonical, one.prev, one.hash, 0, b"mended"
        assert chain.follow([[*rows, row]], None, lambda: named).lost == lost


# -- the record ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def mended(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine batches with their weights, of which a page of facts was lost and named, and one
    batch since."""
    path = tmp_path_factory.mktemp("mended") / "record"
    with Journal.open(path) as journal:
        journal.claim()
        for batch in range(1, BATCHES + 1):
            journal.append(poured(batch))
            shown = [Sample(n * 100, n * 1000, f"{n} g", False) for n in range(30)]
            journal.add_trace(batch, shown, "b1")
            journal.append([live(batch, cup=batch)])
            journal.append([fact("closed", batch, how="used-up", left_ug=None)])
    copyfile(path, path.with_name("before"))
    lose(path, leaves(path, "facts")[2])
    assert mend(path, fact("mended")) is not None
    with Journal.open(path) as journal:
        journal.append([*poured(BATCHES + 1), live(BATCHES + 1, cup=2)])
    return path


def leaves(record: Path, name: str) -> list[int]:
    """The pages of a table, in their order; counted from 0."""
    select = "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY path"
    try:
        with closing(sqlite3.connect(record)) as db:
            return [number - 1 for (number,) in db.execute(select, (name,))]
    except sqlite3.OperationalError:
        pytest.skip("this SQLite cannot say where its tables lie")


def lose(record: Path, page: int) -> None:
    raw = bytearray(record.read_bytes())
    raw[page * PAGE : (page + 1) * PAGE] = bytes(PAGE)
    record.write_bytes(raw)


@pytest.fixture
def record(mended: Path, tmp_path: Path) -> Path:
    return Path(copyfile(mended, tmp_path / "record"))


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def numbers(record: Path) -> list[int]:
    with Journal.read(record) as reader:
        return [seq for seq, _ in reader.sealed()]


def sql(record: Path, statement: str, *given: object) -> None:
    with closing(sqlite3.connect(record)) as db, db:
        assert db.execute(statement, given).rowcount == 1


@pytest.mark.parametrize("how", ["altered", "taken out"])
def test_what_is_done_behind_a_hole_is_named(record: Path, capsys: Capture, how: str) -> None:
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith("All that is there is as it was stored; not there: facts ")
    assert "were lost with a damaged part of the file" in said
    there = numbers(record)
    at = there[-8]
    statement = "UPDATE facts SET bytes = bytes || ' '" if how == "altered" else "DELETE FROM facts"
    sql(record, f"{statement} WHERE seq = ?", at)
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith(f"Fact {at} is not as it was stored")
    assert "were lost with a damaged part of the file" in said


def test_what_stands_before_a_hole_cannot_be_written_anew(record: Path, capsys: Capture) -> None:
    last = next(seq for seq, after in pairwise(numbers(record)) if after > seq + 1)
    with Journal.read(record) as reader:
        held = dict(reader.sealed())
    with closing(sqlite3.connect(record)) as db, db:
        prev = GENESIS
        for seq in range(1, last + 1):
            canonical = held[seq].replace(b'"operator":"AB"', b'"operator":"CD"')
            hash_ = sha256(prev + canonical).digest()
            row = (canonical, prev, hash_, seq)
            db.execute("UPDATE facts SET bytes = ?, prev = ?, hash = ? WHERE seq = ?", row)
            prev = hash_
    with Journal.read(record) as reader:
        assert held != dict(reader.sealed())
    assert run(record, "verify") == 1
    assert capsys.readouterr().out.startswith(f"Fact {last} is not as it was stored")


def test_a_head_is_compared_behind_a_hole(record: Path, capsys: Capture) -> None:
    with Journal.read(record) as reader:
        hashes = [row[3] for row in reader.rows()]
    for head in (hashes[0], hashes[-9], hashes[-1]):
        assert isinstance(head, bytes)
        assert run(record, "verify", "--head", head.hex()) == 1
        assert capsys.readouterr().out.startswith("All that is there is as it was stored")
    assert run(record, "verify", "--head", "ab" * 32) == 1
    assert capsys.readouterr().out.startswith("No fact of the record has the head abab")


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE traces SET readings = 31 WHERE batch = 8", "Block 8 of the weight trace"),
        ("UPDATE batches SET live = 0, outcome = 'closed' WHERE batch = 10", "of batch 10"),
        ("UPDATE lots SET lot = 'X' WHERE batch = 9 AND role = 'resin_lot'", "of batch 9"),
    ],
)
def test_what_is_done_beside_the_facts_is_named_as_well(
    record: Path, capsys: Capture, statement: str, said: str
) -> None:
    sql(record, statement)
    assert run(record, "verify") == 1
    told = capsys.readouterr().out
    assert said in told
    assert not told.startswith("All that is there")


# -- its copies ------------------------------------------------------------------------


def test_it_is_copied_over_its_own_copy_and_over_none_that_has_what_is_lost(
    record: Path, mended: Path, tmp_path: Path, capsys: Capture
) -> None:
    copy = tmp_path / "copy"
    for _ in range(2):
        assert run(record, "backup", "--to", str(copy)) == 1
        assert "were lost with a damaged part" in capsys.readouterr().err
        with Journal.open(record) as journal:
            journal.append([fact("noted", 1, text="since")])
    assert numbers(copy) == numbers(record)[:-1]
    before = Path(copyfile(mended.with_name("before"), tmp_path / "before"))
    raw = before.read_bytes()
    assert run(record, "backup", "--to", str(before)) == 2
    assert "holds what was lost" in capsys.readouterr().err
    assert before.read_bytes() == raw
    sql(record, "DELETE FROM facts WHERE seq = ?", numbers(record)[-4])
    assert run(record, "backup", "--to", str(copy)) == 2
    assert "is not whole" in capsys.readouterr().err


def test_a_copy_that_has_weights_which_are_lost_is_kept(
    mended: Path, tmp_path: Path, capsys: Capture
) -> None:
    before = Path(copyfile(mended.with_name("before"), tmp_path / "before"))
    record = Path(copyfile(before, tmp_path / "record"))
    lose(record, leaves(record, "traces")[0])
    assert mend(record, fact("mended")) is not None
    raw = before.read_bytes()
    assert run(record, "backup", "--to", str(before)) == 2
    assert "holds what was lost" in capsys.readouterr().err
    assert before.read_bytes() == raw
    for _ in range(2):
        assert run(record, "backup", "--to", str(tmp_path / "copy")) == 1
