"""What is seen of a laminate later: folded, told, exported, and never an end of the reading."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, poured

from mixer.record import later
from mixer.record.envelope import Entry
from mixer.record.export import rows
from mixer.record.later import KINDS
from mixer.record.telling import tell
from mixer.record.views import batch_rows

AT, UNTIL = "2024-05-01T20:00:00.000Z", "2024-05-02T06:00:00.000Z"


def seen(kind: str, number: int, value: Any, until: str = AT, **more: Any) -> Entry:
    data = {"number": number, "value": value, "from_utc": AT, "to_utc": until, **more}
    return fact(kind, at_ms=900_000, **data)


def corrected(field: str, value: Any) -> Entry:
    return fact("corrected", at_ms=950_000, field=field, was=None, value=value, reason="misread")


FACTS = [
    *poured(),
    live(),
    seen("temperature", 1, [21, 21]),
    seen("temperature", 2, [12.5, 19], UNTIL),
    seen("witness", 1, "dents"),
    seen("finding", 1, "a soft spot", what="defect"),
    seen("finding", 2, "cut out, two plies laid in", what="repair"),
]


def test_they_stand_in_the_row_of_their_batch() -> None:
    (row,) = rows(FACTS)
    assert row["temperatures"] == f"21 degC ({AT}) | 12.5 to 19 degC ({AT} to {UNTIL})"
    assert row["witness"] == f"dents ({AT})"
    assert row["findings"] == (
        f"defect: a soft spot ({AT}) | repair: cut out, two plies laid in ({AT})"
    )
    assert row["outcome"] == "live"  # nothing of it changes how the batch stands
    bare = rows(FACTS[:8])[0]
    told = {"temperatures", "witness", "findings"}
    assert {key for key in row if row[key] != bare[key]} == told


def test_the_newest_value_counts_and_what_is_taken_back_does_not() -> None:
    changed = [
        corrected("temperature-2", [10, 19]),
        corrected("witness-1", None),
        corrected("finding-3", "there is none"),
    ]
    (row,) = rows([*FACTS, *changed])
    assert "10 to 19 degC" in row["temperatures"]
    assert row["witness"] is None
    assert "witness-1: unknown -> unknown" in row["corrections"]
    assert "soft spot" in row["findings"]
    (batch,) = batch_rows([*FACTS, *changed])
    assert [one.degrees for one in batch.later[:2]] == [(21, 21), (10, 19)]


def test_each_is_told_in_a_line() -> None:
    told = [tell(entry, []) for entry in FACTS[8:]]
    assert told == [
        f"temperature-1: 21 degC ({AT})",
        f"temperature-2: 12.5 to 19 degC ({AT} to {UNTIL})",
        f"witness-1: dents ({AT})",
        f"finding-1: defect: a soft spot ({AT})",
        f"finding-2: repair: cut out, two plies laid in ({AT})",
    ]


GOOD = {"number": 1, "value": "hard", "from_utc": AT, "to_utc": AT}


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("witness", {"number": "1"}), ("witness", {"number": True}), ("witness", {"value": 80}),
        ("witness", {"from_utc": None}), ("witness", {"to_utc": 7}), ("noted", {}),
        ("temperature", {}), ("temperature", {"value": [20]}), ("temperature", {"value": [21, 20]}),
        ("temperature", {"value": [True, 20]}), ("temperature", {"value": ["20", "21"]}),
    ],
)  # fmt: skip
def test_what_cannot_be_made_out_is_none(kind: str, wrong: dict[str, Any]) -> None:
    assert later.read("witness", GOOD) is not None
    assert later.read(kind, {**GOOD, **wrong}) is None
    assert later.read("finding", {**GOOD, "what": "rumour"}).what == ""  # type: ignore[union-attr]


ANY = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=2),
    max_leaves=4,
)
KEYS = ("number", "value", "from_utc", "to_utc", "what", "text")


@given(st.sampled_from(KINDS), st.dictionaries(st.sampled_from(KEYS), ANY), ANY)
def test_whatever_another_program_wrote_ends_no_reading(
    kind: str, data: dict[str, Any], value: Any
) -> None:
    facts = [*FACTS, fact(kind, **data), corrected("temperature-1", value)]
    (row,) = rows(facts)
    assert row["batch"] == 1
    assert all(tell(entry, []) for entry in facts)
    (batch,) = batch_rows(facts)
    assert all(isinstance(later.line(one), str) for one in batch.later)
