"""The weight trace: every reading comes back, and a change to it shows."""

from __future__ import annotations

import sqlite3
import zlib
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, poured

from mixer.record import chain
from mixer.record.envelope import GENESIS, RecordError
from mixer.record.journal import Journal
from mixer.record.trace import Sample, pack, sealed, unpack

SAMPLES = st.builds(
    Sample,
    at_ms=st.integers(0, 10**12),
    mass_ug=st.integers(-(10**10), 10**11),
    text=st.from_regex(r"-?\d{1,5}\.\d g", fullmatch=True),
    still=st.booleans(),
)


def samples(first: int, count: int) -> list[Sample]:
    return [Sample(n * 100, n * 100_000, f"{n / 10:.1f} g", n % 3 == 0)
            for n in range(first, first + count)]  # fmt: skip


@given(st.lists(SAMPLES))
def test_a_block_gives_back_its_readings(readings: list[Sample]) -> None:
    assert list(unpack(pack(readings))) == readings


def test_a_scale_that_sends_tabs_and_line_ends_breaks_no_block() -> None:
    assert unpack(pack([Sample(1, 2, "5.0\tg\n", True)])) == (Sample(1, 2, "5.0 g", True),)


@pytest.mark.parametrize(
    "block", [b"", b"text", zlib.compress(b"1\t2"), zlib.compress(b"a\tb\ts\tc"),
              zlib.compress(b"\xff\xff")],
)  # fmt: skip
def test_what_is_no_block_is_said_to_be_none(block: bytes) -> None:
    with pytest.raises(RecordError, match="cannot be read"):
        unpack(block)


def test_a_minute_of_readings_is_small() -> None:
    assert len(pack(samples(0, 600))) < 5 * 600  # a line is some 25 bytes


def test_it_is_kept_by_batch_and_bound_into_the_chain(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "record") as journal:
        journal.append([*poured(1), *poured(2)])
        journal.add_trace(1, samples(0, 5), "boot-1")
        journal.add_trace(2, samples(90, 3), "boot-1")
        journal.add_trace(1, [], "boot-1")
        journal.add_trace(1, samples(5, 5), "boot-2")
        assert [s for _, s in journal.trace(1)] == samples(0, 10)
        assert [boot for boot, _ in journal.trace(1)] == ["boot-1"] * 5 + ["boot-2"] * 5
        assert list(journal.trace(3)) == []
        journal.append([live(1), fact("ended", 3, how="dropped")])
        kinds = [e.kind for e in journal.entries()][-3:]
        assert kinds == ["traced", "live", "ended"]
        assert journal.verify().ok


@pytest.mark.parametrize(
    "tamper",
    [
        "UPDATE traces SET bytes = (SELECT bytes FROM traces WHERE block = 2) WHERE block = 1",
        "UPDATE traces SET batch = 2 WHERE block = 1",
        "UPDATE traces SET batch = X'1B5B324A' WHERE block = 2",
        "UPDATE traces SET boot = 'boot-9' WHERE block = 2",
        "UPDATE traces SET hash = zeroblob(32) WHERE block = 1",
        "DELETE FROM traces WHERE block = 1",
        "DELETE FROM traces WHERE block = 2",
        "DELETE FROM traces",
        "UPDATE traces SET readings = 6 WHERE block = 1",
        "UPDATE traces SET readings = 'abc' WHERE block = 1",
        "UPDATE traces SET readings = 4 + block",
    ],
)
def test_a_change_to_it_is_found(tmp_path: Path, tamper: str) -> None:
    path = tmp_path / "record"
    with Journal.open(path) as journal:
        journal.append(poured())
        journal.add_trace(1, samples(0, 5), "boot-1")
        journal.add_trace(1, samples(5, 5), "boot-1")
        journal.append([live()])
        assert journal.verify().ok
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(tamper)
    with Journal.read(path) as reader:
        found = reader.verify()
    assert not found.ok
    assert "weight trace" in found.say
    assert found.say.isprintable()
    assert "\\x" not in found.say
    assert found.facts == 9


@pytest.mark.parametrize("batch", [1, 3, 4])
def test_a_trace_that_no_pour_can_have_left_is_found(tmp_path: Path, batch: int) -> None:
    """Of one that ended without a trace, one that was typed in, one that never was."""
    path = tmp_path / "record"
    with Journal.open(path) as journal:
        journal.append([*poured(1), live(1), *poured(2), fact("entered", 3)])
        journal.add_trace(2, samples(0, 5), "boot-1")  # is being poured: no fact tells yet
        assert journal.verify().ok
    block = pack(samples(0, 5))
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(
            "INSERT INTO traces (batch, boot, readings, bytes, hash) VALUES (?, 'b', 5, ?, ?)",
            (batch, block, sealed(GENESIS, batch, "b", block)),
        )
    with Journal.read(path) as reader:
        found = reader.verify()
    assert not found.ok
    assert found.say == (
        f"No fact tells of the weight trace of batch {batch}: facts were cut off from the end, "
        f"from fact {found.facts + 1} on, or the trace was put in."
    )


def test_where_all_facts_were_taken_out_the_first_is_named_by_the_weights_left(
    tmp_path: Path,
) -> None:
    path = tmp_path / "record"
    with Journal.open(path) as journal:
        journal.append(poured(1))
        journal.add_trace(1, samples(0, 5), "boot-1")
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DELETE FROM facts")
    with Journal.read(path) as reader:
        found = reader.verify()
    assert not found.ok
    assert "facts were cut off from the end, from fact 1 on" in found.say


def test_a_batch_that_ends_while_its_record_is_looked_through_is_no_trouble(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "record"
    follow = chain.follow
    with Journal.open(path) as journal, Journal.read(path) as reader:
        journal.append(poured())
        journal.add_trace(1, samples(0, 5), "boot-1")

        def slow(*given: Any) -> chain.Finding:
            found = follow(*given)
            journal.append([live()])
            return found

        monkeypatch.setattr(chain, "follow", slow)
        assert reader.verify().ok
