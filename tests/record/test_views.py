"""The folds: one row for each batch, and the cups that are alive."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from support.facts import OPENED, fact, live, opened, poured

from mixer.record.envelope import Entry
from mixer.record.views import (
    LiveCup,
    Moment,
    batch_rows,
    find_live,
    free_cup_number,
    live_cups,
)

KINDS = [
    *("opened", "tared", "called", "begun", "handed-over", "accepted", "held", "resumed"),
    *("doubted", "noted", "stirring", "live", "ended", "closed", "unheard-of"),
]
KEYS = [
    *("recipe", "components", "role", "tare_ug", "component", "net_ug", "how", "why", "text"),
    *("cup", "verdict", "amounts_ug", "ratio_target", "ratio_actual", "left_ug", "pot_life"),
]
JUNK = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 3) | st.floats() | st.text(max_size=3),
    lambda inner: (
        st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3)
    ),
    max_leaves=6,
)


def test_a_batch_from_tare_to_empty() -> None:
    facts = [*poured(), fact("noted", text="warm"), live(cup=3)]
    facts.append(fact("closed", at_ms=900_000, how="left", left_ug=9_000_000))
    outcomes = [batch_rows(facts[:n])[0].outcome for n in (1, 7, 9, 10)]
    assert outcomes == ["open", "open", "live", "closed"]
    (row,) = batch_rows(facts)
    assert row.opened == OPENED
    assert row.amounts_ug == {0: 44_100_000, 1: 15_900_000}
    assert (row.sum_ug("resin"), row.sum_ug("hardener"), row.sum_ug()) == (
        44_100_000,
        15_900_000,
        60_000_000,
    )
    assert (row.tare_ug, row.left_ug, row.closed_how, row.cup) == (12_300_000, 9_000_000, "left", 3)
    assert row.notes == ("warm",)


def test_an_addition_replaces_the_amount_of_its_component() -> None:
    (row,) = batch_rows([*poured(), fact("accepted", component=0, net_ug=45_000_000)])
    assert row.amounts_ug == {0: 45_000_000, 1: 15_900_000}


def test_the_clock_runs_from_the_first_contact_of_hardener() -> None:
    later = fact("begun", at_ms=90_000, component=1)  # an addition: older contact stands
    assert live_cups([*poured(), later, live(cup=2)]) == (
        LiveCup(
            cup=2,
            batch=1,
            resin_system="invented resin",
            contact_at_ms=30_000,
            boot="boot-1",
            contact_utc="2024-05-01T08:00:30.000Z",
            live_utc="2024-05-01T08:02:40.000Z",
            total_ug=60_000_000,
            verdict="in-band",
            pot_life={"minutes": 25, "at_c": 25},
            later=(
                Moment("2024-05-01T08:00:30.000Z", 30_000, "boot-1"),
                Moment("2024-05-01T08:02:40.000Z", 160_000, "boot-1"),
            ),
        ),
    )


def test_a_cup_keeps_the_boot_in_which_its_clock_began() -> None:
    after = fact("live", at_ms=4_000, boot="boot-2", cup=1, verdict="unproven")
    (cup,) = live_cups([*poured(), after])
    assert (cup.boot, cup.contact_at_ms) == ("boot-1", 30_000)
    assert cup.verdict == "unproven"


def test_contact_unseen_counts_from_the_opening() -> None:
    (cup,) = live_cups([opened(at_ms=2_000), live()])
    assert cup.contact_at_ms == 2_000


def test_of_blended_hardeners_the_first_in_the_cup_starts_the_clock() -> None:
    parts = [{"role": "resin"}, {"role": "hardener"}, {"role": "hardener"}]
    first = opened(recipe={"components": parts})
    begun = [fact("begun", at_ms=ms, component=c) for ms, c in ((1, 0), (50, 2), (90, 1))]
    (cup,) = live_cups([first, *begun, live(amounts_ug=[1, 2, 4])])
    assert (cup.contact_at_ms, cup.total_ug) == (50, 7)


def test_what_was_parted_is_what_is_left_in_the_cup_and_how_much_was_taken_out() -> None:
    out = fact(
        "parted", from_ug=72_300_000, gross_ug=62_300_000, amounts_ug=[37_000_000, 13_000_000]
    )
    (row,) = batch_rows([*poured(), out])
    assert (row.amounts_ug, row.parted_ug) == ({0: 37_000_000, 1: 13_000_000}, 10_000_000)
    again = fact(
        "parted", from_ug=62_300_000, gross_ug=60_300_000, amounts_ug=[36_000_000, 12_000_000]
    )
    (row,) = batch_rows([*poured(), out, again])
    assert row.parted_ug == 12_000_000
    (row,) = batch_rows([*poured(), fact("parted", from_ug="much")])
    assert row.parted_ug is None


def test_only_cups_that_went_live_and_are_not_closed_are_alive() -> None:
    facts = [*poured(1), live(1, cup=1), *poured(2), live(2, cup=2), *poured(3)]
    facts += [*poured(4), fact("ended", 4, how="dropped", verdict=None, amounts_ug=[5, None])]
    facts += [fact("closed", 1, how="discard", left_ug=None)]
    cups = live_cups(facts)
    assert [(cup.cup, cup.batch) for cup in cups] == [(2, 2)]
    assert find_live(cups, 2) == cups[0]
    assert find_live(cups, 1) is None
    assert free_cup_number(cups) == 1
    rows = {row.batch: row for row in batch_rows(facts)}
    assert [rows[b].outcome for b in (1, 2, 3, 4)] == ["closed", "live", "open", "dropped"]
    assert rows[4].amounts_ug == {0: 5, 1: 15_900_000}


def test_a_live_cup_lives_on_when_the_program_was_interrupted() -> None:
    ended = fact("ended", at_ms=200_000, how="interrupted", verdict=None, amounts_ug=[])
    facts = [*poured(), live(), ended]
    assert len(live_cups(facts)) == 1
    (row,) = batch_rows(facts)
    assert (row.outcome, row.verdict) == ("live", "in-band")


@given(st.sets(st.integers(1, 12)))
def test_the_free_number_is_the_smallest_that_is_not_taken(taken: set[int]) -> None:
    cups = live_cups([e for n in sorted(taken) for e in (opened(n), live(n, cup=n))])
    free = free_cup_number(cups)
    assert free >= 1
    assert free not in taken
    assert set(range(1, free)) <= taken


@given(st.lists(st.tuples(st.sampled_from(KINDS), st.dictionaries(st.sampled_from(KEYS), JUNK))))
def test_facts_of_other_programs_are_passed_over(facts: list[tuple[str, dict[str, Any]]]) -> None:
    """Unknown kinds, missing keys, values of another type: a row all the same."""
    entries = [Entry(kind, data, 0, "", "", 1, "") for kind, data in facts]
    rows = batch_rows(entries)
    assert [row.batch for row in rows] == ([1] if facts else [])
    assert all(isinstance(row.outcome, str) for row in rows)
    assert all(type(row.sum_ug()) in (int, type(None)) for row in rows)
    assert all(cup.total_ug == rows[0].sum_ug() or cup.total_ug == 0 for cup in live_cups(entries))


@given(st.permutations(range(3)))
def test_batches_mixed_at_the_same_time_do_not_mix(order: list[int]) -> None:
    streams = {n: [*poured(n), live(n, cup=n)] for n in (1, 2, 3)}
    woven = [streams[n + 1][i] for i in range(8) for n in order]
    assert batch_rows(woven) == batch_rows([e for n in (1, 2, 3) for e in streams[n]])


def test_a_fact_of_no_batch_makes_no_row() -> None:
    assert batch_rows([fact("noted", batch=0, text="new scale")]) == []


def test_a_component_that_cannot_be_is_not_counted() -> None:
    (row,) = batch_rows([*poured(), fact("accepted", component=-1, net_ug=1)])
    assert row.amounts_ug == {0: 44_100_000, 1: 15_900_000}
