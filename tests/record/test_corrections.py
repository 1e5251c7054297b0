"""Corrections and late entries in the rows of the record: what they change, and what not."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import OPENED, fact, live, poured

from mixer.app.book.looking import Shown
from mixer.app.book.show import form, listed, plain
from mixer.record.corrections import ABOUT
from mixer.record.csv_file import write_csv
from mixer.record.envelope import Entry, RecordError, seal
from mixer.record.export import COLUMNS, Stand, row_of, rows
from mixer.record.journal import Journal
from mixer.record.stored import Stored
from mixer.record.telling import tell
from mixer.record.views import batch_rows, live_cups

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
VALUES = st.none() | TEXT | st.integers(-99, 99) | st.floats(-99, 99)
HEAD = Stand(7, bytes(range(32)))


def corrected(field: str, value: Any, **more: Any) -> Entry:
    said: dict[str, Any] = {"was": None, "reason": "misread", "of_seq": 1, "of_kind": "opened"}
    return fact("corrected", at_ms=10**9, field=field, value=value, **{**said, **more})


def entered(**changes: Any) -> Entry:
    """A batch that was typed in: 80 g and 28.8 g of the invented resin."""
    about = {key: value for key, value in OPENED.items() if key not in ("size_ug", "bench")}
    said: dict[str, Any] = {
        "weights": "typed",
        "mixed_at": "2024-04-01T10:30",
        "mixed_utc": "2024-04-01T08:30:00.000Z",
        "amounts_ug": [80_000_000, 28_800_000],
        "ratio_target": 36,
        "ratio_actual": 36.0,
        "verdict": "unproven",
        "unproven_because": "its weights were typed in",
        "note": "mixed at the club",
    }
    return fact("entered", **{**about, **said, **changes})


@given(st.sampled_from(ABOUT), VALUES)
def test_a_correction_changes_only_its_field(field: str, value: Any) -> None:
    (before,), (after,) = (
        rows([*poured(), live()]),
        rows([*poured(), live(), corrected(field, value)]),
    )
    changed = {key for key in after if after[key] != before[key]}
    assert changed - {field} == {"corrections"}
    assert after[field] == value


@given(st.lists(st.tuples(st.sampled_from(ABOUT), VALUES), min_size=1))
def test_of_several_corrections_the_last_wins(said: list[tuple[str, Any]]) -> None:
    facts = [corrected(field, value) for field, value in said]
    (batch,) = batch_rows([*poured(), live(), *facts])
    newest = dict(said)
    assert {field: batch.about(field) for field in newest} == newest
    assert [one.value for one in batch.corrections] == [value for _, value in said]


def test_the_row_tells_what_stood_there_before_and_why() -> None:
    facts = [*poured(), live(), fact("closed", how="left", left_ug=9_000_000)]
    facts += [corrected("air_c", 22, was=21.5, follows={"dew_point_c": 12.5})]
    facts += [corrected("left_ug", 8_100_000, was=9_000_000, reason="weighed; again")]
    facts += [fact("noted", at_ms=10**9, text="a soft spot", reason="found by tapping")]
    (row,) = rows(facts)
    assert (row["air_c"], row["dew_point_c"], str(row["left_g"])) == (22, 12.5, "8.1")
    assert row["corrections"] == (
        "air_c: 21.5 -> 22 (misread; 2024-05-12T21:46:40.000Z) | "
        "left_g: 9 -> 8.1 (weighed; again; 2024-05-12T21:46:40.000Z) | "
        "note added: a soft spot (found by tapping; 2024-05-12T21:46:40.000Z)"
    )
    assert row["note"] == "a soft spot"


def test_what_a_scale_weighed_is_not_changed_by_any_correction() -> None:
    facts = [*poured(), live()]
    wrong = [corrected("amount_ug", 1, component=0), corrected("mixed_utc", "never")]
    wrong += [corrected("verdict", "in-band"), corrected("ratio_actual", 36)]
    (before,), (after,) = rows(facts), rows([*facts, *wrong])
    assert {key for key in after if after[key] != before[key]} == {"corrections"}


def test_a_late_entry_is_marked_and_is_never_live() -> None:
    facts = [entered()]
    (row,) = rows(facts)
    assert (row["opened_utc"], row["entered_utc"]) == (
        "2024-04-01T08:30:00.000Z",
        "2024-05-01T08:00:00.000Z",
    )
    assert (row["weights"], row["verdict"], row["outcome"]) == ("typed", "unproven", "entered")
    assert (row["resin_g"], row["hardener_g"], row["cup"]) == (80, Decimal("28.8"), None)
    assert (str(row["ratio_actual"]), row["note"]) == ("36.000", "mixed at the club")
    assert live_cups(facts) == ()


def test_typed_masses_and_times_may_be_corrected() -> None:
    follows = {"ratio_actual": 40.0, "unproven_because": "typed, and off"}
    facts = [entered(), corrected("amount_ug", 32_000_000, component=1, follows=follows)]
    facts += [corrected("mixed_utc", "2024-04-02T08:30:00.000Z")]
    (row,) = rows(facts)
    assert (row["hardener_g"], row["resin_g"]) == (32, 80)
    assert (str(row["ratio_actual"]), str(row["ratio_deviation_pct"])) == ("40.000", "11.11")
    assert (row["verdict"], row["unproven_because"]) == ("unproven", "typed, and off")
    assert row["opened_utc"] == "2024-04-02T08:30:00.000Z"


def test_the_journal_finds_a_batch_by_its_corrected_lot_and_no_late_entry_as_open(
    tmp_path: Path,
) -> None:
    with Journal.open(tmp_path / "record") as journal:
        journal.append([*poured(), live(), corrected("resin_lot", "R-18")])
        journal.open_batch(entered(resin_lot="R-18"))
        assert {e.batch for e in journal.entries(lot="R-18")} == {1, 2}
        assert list(journal.entries(lot="R-17")) == []
        assert list(journal.entries(outcome="open")) == []
        assert {e.batch for e in journal.entries(outcome="entered")} == {2}


def test_every_row_says_where_the_record_stands() -> None:
    for row in rows([*poured(1), *poured(2)], HEAD):
        assert (row["record_facts"], row["record_head"]) == (7, HEAD.head.hex())
        assert row["record_trouble"] is None
    (row,) = rows(poured(), Stand(3, b"", "Fact 2 is not as it was."))
    assert row["record_trouble"] == "Fact 2 is not as it was."
    assert COLUMNS[-2:] == ("record_facts", "record_head")


@settings(max_examples=50, deadline=None)  # the first loads pandas
@given(TEXT, TEXT, TEXT)
def test_a_table_with_corrections_reads_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, value: str, was: str, reason: str
) -> None:
    path = tmp_path_factory.getbasetemp() / "corrected.csv"
    facts = [*poured(), live(), corrected("operator", value, was=was, reason=reason)]
    table = rows([*facts, entered(), *poured(3)], HEAD)
    write_csv(table, path)
    with path.open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    assert len(read) == len(table)
    assert all(tuple(row) == COLUMNS for row in read)
    assert {row["record_head"] for row in read} == {HEAD.head.hex()}
    assert read[0]["operator"].removeprefix("'").split() == _plain(value).split()
    assert read[0]["operator"].lstrip()[:1] not in ("=", "+", "-", "@")
    assert len(path.read_bytes().splitlines()) == 1 + len(table)


def _plain(text: str) -> str:
    return "".join(
        " " if ord(c) < 32 or 127 <= ord(c) < 160 or c in "\u2028\u2029" else c
        for c in text.removeprefix("'")
    )


KINDS = ["opened", "tared", "called", "begun", "accepted", "held", "resumed", "doubted", "noted",
         "stirring", "live", "ended", "closed", "entered", "corrected", "unheard-of"]  # fmt: skip
KEYS = ["recipe", "components", "role", "name", "field", "value", "was", "reason", "follows",
        "component", "of_seq", "amounts_ug", "ratio_actual", "ratio_target", "left_ug", "text",
        "note", "mixed_utc", "mixed_at", "size_ug", "resin_system", "verdict", "cup", "how",
        "layup", "stir_ms", "net_ug", "tare_ug"]  # fmt: skip
NAMES = st.sampled_from([*ABOUT, "left_ug", "amount_ug", "mixed_utc", "hardener", "resin", ""])
JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-2, 2) | st.floats() | TEXT | NAMES,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3)
    ),
    max_leaves=5,
)
ODD = st.lists(
    st.tuples(st.sampled_from(KINDS), st.dictionaries(st.sampled_from(KEYS), JUNK, max_size=6)),
    max_size=6,
)


@settings(max_examples=60, deadline=None)
@given(ODD, st.booleans())
def test_no_fact_ever_ends_the_reading(odd: list[tuple[str, dict[str, Any]]], known: bool) -> None:
    """Rows, lines and the form of any facts at all; only what a record can hold is given."""
    facts = [entered()] if known else []
    for kind, data in odd:
        entry = fact(kind, **data)
        try:
            seal(entry, 1, bytes(32))
        except RecordError:
            continue
        facts.append(entry)
    for batch in batch_rows(facts):
        row = row_of(batch, HEAD)
        assert json.dumps(plain(row), allow_nan=False)
        stored = [Stored(n, b"", entry) for n, entry in enumerate(facts, 1)]
        shown = list(form(Shown(batch, [*stored, Stored(99, b"", None, "torn")], 3)))
        assert all(line.isprintable() for line in (*shown, *listed([batch])))
        assert all(tell(entry, batch.components) for entry in facts)
