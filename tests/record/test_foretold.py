"""What was foretold of a cup, measured of its room and said of it, in the views of a record."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, poured

from mixer.record.export import COLUMNS, rows
from mixer.record.telling import tell
from mixer.record.views import batch_rows

TOLD: dict[str, Any] = {
    "mass_ug": 60_000_000, "air": [[0, 24], [600, 27.5]], "assumed": False, "why": None,
    "working_s": 1500, "low_s": 1234, "high_s": 1800, "gel_s": None, "peak_c": 182,
    "peak_s": 1700, "runaway": True,
}  # fmt: skip


def test_the_newest_is_what_the_row_says() -> None:
    facts = [*poured(), fact("foretold", **{**TOLD, "working_s": 9}), fact("foretold", **TOLD)]
    facts += [live(), fact("measured", air_c=24), fact("measured", air_c="warm")]
    facts += [fact("thickened", cup=1, age_s=1290), fact("thickened", cup=1, age_s=1400)]
    (row,) = rows(facts)
    assert row["working_min"] == Decimal("25.0")
    assert (row["working_low_min"], row["working_high_min"]) == (Decimal("20.6"), Decimal("30.0"))
    assert (row["gel_min"], row["peak_c"], row["runaway"]) == (None, 182, True)
    assert row["thickened_min"] == Decimal("21.5")
    assert [air_c for _, air_c in batch_rows(facts)[0].measured] == [24]
    assert row["temperatures"] == "24 degC (2024-05-01T08:00:00.000Z)"


def test_each_is_told_in_words() -> None:
    said = tell(fact("foretold", **TOLD), [])
    assert "60 g in air of 24 degC, then 27.5 degC" in said
    assert "within 20.6 to 30.0 min" in said
    assert "182 degC after 28.3 min, runs away" in said
    none = {**TOLD, "assumed": True, "why": "the model was checked for 5 to 500 g"}
    assert "no time could be foretold" in tell(fact("foretold", **none), [])
    assert "nobody said how warm" in tell(fact("foretold", **none), [])
    assert "at 24.5 degC" in tell(fact("measured", air_c=24.5, text="24.5 C"), [])
    assert "cup 2 is thickening, 21.5 min" in tell(fact("thickened", cup=2, age_s=1290), [])


def test_each_cup_of_a_batch_that_was_split_has_its_own() -> None:
    shared = fact("shared", cup=2, of=1, mass_ug=20_000_000, weights="scale")
    own = {**TOLD, "cup": 2, "shared": [[300.0, 20_000_000, None]], "low_s": 1500}
    none = {**own, "cup": 1, "low_s": None, "why": "the model was checked for 5 to 500 g"}
    facts = [*poured(), fact("foretold", **TOLD), live(), shared]
    facts += [fact("foretold-share", **told) for told in (own, none)]
    first, second = rows(facts)
    assert (first["working_low_min"], second["working_low_min"]) == (
        Decimal("20.6"),
        Decimal("25.0"),
    )
    assert "of cup 2, at most 20 g of 60 g in air of 24 degC" in tell(facts[-2], [])
    assert tell(facts[-1], []).startswith("no time could be foretold of cup 1")


splits = st.lists(
    st.tuples(st.integers(1, 5), st.integers(1, 5), st.none() | st.integers(0, 90_000_000)),
    max_size=6,
)


@given(splits)
def test_what_stood_together_with_a_cup_only_gets_less(shares: list[Any]) -> None:
    facts = [*poured(), live(cup=1)]
    for at_ms, (cup, of, mass_ug) in enumerate(shares):
        facts.append(fact("shared", 1, at_ms, cup=cup, of=of, mass_ug=mass_ug))
    whole_ug = batch_rows(facts)[0].sum_ug() or 0
    for one in batch_rows(facts)[0].cups:
        masses = [most_ug for _, most_ug, _ in one.course]
        assert masses[-1:] in ([], [one.most_ug])
        times = [when.at_ms for when, _, _ in one.course]
        assert times == sorted(times)
        if all(mass is None or mass <= whole_ug for _, _, mass in shares):
            assert max(masses, default=0) <= whole_ug


anything = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3)


@given(
    st.sampled_from(["foretold", "foretold-share", "measured", "thickened"]),
    st.dictionaries(st.sampled_from([*TOLD, "age_s", "air_c", "cup", "text", "shared"]), anything),
)
def test_whatever_stands_in_such_a_fact_ends_no_reading(kind: str, data: dict[str, Any]) -> None:
    one = fact(kind, **data)
    (row,) = rows([*poured(), one, live()])
    assert set(row) == set(COLUMNS)
    assert tell(one, [])
