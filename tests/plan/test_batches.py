"""Batches: their laws for any need, and what is best among all ways for a small one."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import accumulate, combinations, pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mixer.plan.batches import CRUMB_UG, MOST_BATCHES, UG_PER_G, Batch, Cap, TooMany, batches
from mixer.plan.cuts import TRIFLE_UG
from mixer.plan.need import Portion

GRAMS = st.lists(st.floats(0, 300), min_size=0, max_size=30)
CAP = st.floats(5, 400)
RATE = st.floats(1, 60)
PREPARE = st.floats(0, 10)
FEW = settings(max_examples=50)


def groups(grams: Iterable[float]) -> list[Portion]:
    """Two plies each, wetted together; the first is the place in the row."""
    return [Portion(f"step {i}", (i, 100 + i), g) for i, g in enumerate(grams)]


def some(portions: Iterable[tuple[float, int]]) -> list[Portion]:
    """Of so many grams and so many plies each; of no plies it is slurry, a joint or peel ply."""
    return [
        Portion(f"step {i}", tuple(range(9 * i, 9 * i + plies)), grams)
        for i, (grams, plies) in enumerate(portions)
    ]


def row_of(grams: list[float], cap_g: float, rate: float = 10, prepare: float = 3) -> list[Batch]:
    caps = [Cap(int(cap_g * UG_PER_G), "cup"), Cap(10**12, "scale")]
    return list(batches(groups(grams), caps, rate, prepare))


def masses(row: list[Batch]) -> list[float]:
    return [batch.mass_ug / UG_PER_G for batch in row]


@FEW
@given(GRAMS, CAP, RATE, PREPARE)
def test_they_are_the_need_and_none_breaks_a_cap(
    grams: list[float], cap_g: float, rate: float, prepare: float
) -> None:
    row = row_of(grams, cap_g, rate, prepare)
    assert sum(b.mass_ug for b in row) == pytest.approx(sum(grams) * UG_PER_G, abs=1)
    assert all(0 < b.mass_ug <= int(cap_g * UG_PER_G) for b in row)
    # In the order of the work, nothing left out.
    order = [part.portion.plies[0] for batch in row for part in batch.parts]
    assert order == sorted(order)
    assert set(order) >= {i for i, g in enumerate(grams) if g > 1 / UG_PER_G}


@FEW
@given(GRAMS, CAP)
def test_what_is_wetted_together_stays_together(grams: list[float], cap_g: float) -> None:
    for batch in row_of(grams, cap_g):
        for part in batch.parts:
            whole_ug, most_ug = part.portion.mix_g * UG_PER_G, int(cap_g * UG_PER_G)
            if part.is_whole:
                assert part.mass_ug == pytest.approx(whole_ug, abs=1)
                assert part.mass_ug <= most_ug
            else:
                assert whole_ug > most_ug - 1


@FEW
@given(
    st.integers(5, 60).flatmap(
        lambda cap: st.tuples(st.just(cap), st.lists(st.integers(1, cap), min_size=1, max_size=8))
    )
)
def test_of_all_ways_it_is_one_of_the_fewest_and_the_most_even(
    found: tuple[int, list[int]],
) -> None:
    # Independent: every way to cut the row is tried.
    cap, grams = found
    count = len(grams)
    ways = []
    for cuts in range(count):
        for places in combinations(range(1, count), cuts):
            edges = [0, *places, count]
            sizes = [sum(grams[a:b]) for a, b in pairwise(edges)]
            if max(sizes) <= cap:
                ways.append((len(sizes), max(sizes), sum(size**2 for size in sizes)))
    row = masses(row_of([float(g) for g in grams], cap))
    assert (len(row), max(row), sum(m**2 for m in row)) == min(ways)


@FEW
@given(
    st.integers(3, 9).flatmap(
        lambda cap: st.tuples(
            st.just(cap), st.lists(st.integers(1, 3 * cap), min_size=1, max_size=8)
        )
    )
)
def test_what_is_above_the_cap_too_comes_in_the_fewest_and_the_largest_is_the_least(
    found: tuple[int, list[int]],
) -> None:
    # Independent: all places where a batch may end, to the gram, that so many batches reach.
    cap, grams = found
    edges = [0, *accumulate(grams)]
    places = 1 << edges[-1]
    for a, b in pairwise(edges):
        places |= 1 << a if b - a <= cap else (1 << b) - (1 << a)

    def fewest(most: int) -> int:
        reached, count = 1, 0
        while not reached >> edges[-1] and count < 99:
            before = reached
            for size in range(1, most + 1):
                reached |= before << size & places
            count += 1
        return count

    row = masses(row_of([float(g) for g in grams], cap))
    assert len(row) == fewest(cap)
    least = min(m for m in range(1, cap + 1) if fewest(m) == len(row))
    assert max(row) <= min(cap, least + 2 * TRIFLE_UG / UG_PER_G)


@pytest.mark.parametrize(
    ("grams", "least_g", "expected"),
    [
        ([60.0, 15.0, 50.0], 0, [60, 65]),  # the most even
        ([60.0, 15.0, 50.0], 73, [60, 65]),  # both fall short by less than 50 g would
        ([60.0, 15.0, 50.0], 90, [60, 65]),  # none can be had
        ([60.0, 15.0, 50.0, 30.0], 73, [75, 80]),
        ([40.0, 90.0, 20.0], 70, [75, 75]),
        ([82.0], 73, [41, 41]),  # not a crumb of 2 g beside one that can be proven
        ([168.0], 73, [56, 56, 56]),
        ([9.0, 73.0], 73, [9, 73]),  # whole groups: there is no other way
    ],
)
def test_what_falls_short_of_what_the_scale_can_prove_falls_short_by_little(
    grams: list[float], least_g: int, expected: list[float]
) -> None:
    portions = groups(grams)
    row = batches(portions, [Cap(80 * UG_PER_G, "cup")], 10, 3, least_ug=least_g * UG_PER_G)
    assert masses(list(row)) == expected


@FEW
@example((9, 6, [10, 5, 4]))
@given(
    st.integers(3, 9).flatmap(
        lambda cap: st.tuples(
            st.just(cap),
            st.integers(1, cap),
            st.lists(st.integers(1, 3 * cap), min_size=1, max_size=5),
        )
    )
)
def test_no_crumb_is_made_for_the_sake_of_a_batch_that_can_be_proven(
    found: tuple[int, int, list[int]],
) -> None:
    # Independent: all rows of the fewest, their ends to the gram; the smallest batch of ours is
    # no smaller than that of the row that falls short by the least, or ours falls short by less.
    cap, least, grams = found
    edges = [0, *accumulate(grams)]
    places = {0, *edges}
    for a, b in pairwise(edges):
        places |= set(range(a, b)) if b - a > cap else set()
    end = edges[-1]
    best: dict[int, list[tuple[int, int]]] = {end: [(0, 0)]}  # by the place: count, short
    for a in sorted(places - {end}, reverse=True):
        ways = [
            (count + 1, short + max(0, least - (b - a)) ** 2)
            for b in places
            if a < b <= a + cap
            for count, short in best.get(b, [])
        ]
        fewest = min(count for count, _ in ways)
        best[a] = [(fewest, min(short for count, short in ways if count == fewest))]
    [(count, short)] = best[0]
    portions = groups(map(float, grams))
    row = masses(
        list(batches(portions, [Cap(cap * UG_PER_G, "cup")], 10, 3, least_ug=least * UG_PER_G))
    )
    assert len(row) == count
    # As little as was found: within a twentieth of the least possible, and a gram; a trifle of
    # each is for its edges.
    near = 2 * TRIFLE_UG / UG_PER_G
    assert sum(max(0, least - m - near) ** 2 for m in row) <= 1.05 * short + 1


def test_no_batch_is_a_crumb_of_a_lot() -> None:
    portions = groups([3.1, 112.5])
    lot = Cap(12 * UG_PER_G, "lot")
    row = batches(portions, [Cap(120 * UG_PER_G, "cup")], 10, 3, lot=lot, least_ug=50 * UG_PER_G)
    assert [(batch.mass_ug, batch.decided_by) for batch in row] == [(115_600_000, "need")]


ALIKE = st.tuples(st.floats(5, 400), st.integers(1, 9)).map(lambda of: [of[0]] * of[1])


@settings(max_examples=200)
@given(ALIKE | GRAMS, CAP, st.integers(0, 100), st.none() | st.floats(1, 400))
def test_nothing_is_cut_off_that_no_scale_shows(
    grams: list[float], cap_g: float, least_g: int, left_g: float | None
) -> None:
    portions = groups(grams)
    cap_ug, least_ug = int(cap_g * UG_PER_G), least_g * UG_PER_G
    lot = None if left_g is None else Cap(int(left_g * UG_PER_G), "lot")
    row = batches(portions, [Cap(cap_ug, "cup")], 10, 3, lot=lot, least_ug=least_ug)
    at_ug = 0
    for before, after in pairwise(row):
        at_ug += before.mass_ug
        last, first = before.parts[-1], after.parts[0]
        if last.portion is not first.portion or (lot and at_ug == lot.most_ug):
            continue  # it ends with a portion, or with the lot
        assert last.mass_ug >= TRIFLE_UG or after.mass_ug + last.mass_ug > cap_ug
        assert first.mass_ug >= TRIFLE_UG or before.mass_ug + first.mass_ug > cap_ug


@pytest.mark.parametrize(
    ("grams", "cap_g", "plies"),
    [
        ([341.877795] * 2, 222.7, [(0,), (0,), (1,), (1,)]),
        ([331.677718] * 4, 223.0, [(0,), (0, 1), (1,), (2,), (2, 3), (3,)]),
        ([130.03, 130.0], 70.0, [(0,), (0,), (1,), (1,)]),  # 0.015 g beside the even share
        ([130.003, 129.997], 65.0, [(0,), (0,), (0, 1), (1,)]),  # no room for that
    ],
)
def test_a_batch_ends_with_a_portion_that_all_but_ends_there(
    grams: list[float], cap_g: float, plies: list[tuple[int, ...]]
) -> None:
    row = row_of(grams, cap_g)
    assert [tuple(part.portion.plies[0] for part in batch.parts) for batch in row] == plies
    assert max(masses(row)) <= cap_g


def test_what_is_left_of_a_lot_makes_no_crumb() -> None:
    caps = [Cap(100 * UG_PER_G, "cup")]

    def row(grams: float, lot_g: float, least_g: int) -> list[float]:
        portions, lot = groups([grams]), Cap(int(lot_g * UG_PER_G), "the lot")
        found = batches(portions, caps, 10, 3, lot=lot, least_ug=least_g * UG_PER_G)
        return masses(list(found))

    assert row(103, 100, 73) == pytest.approx([51.5, 51.5])  # some of the lot is left over
    assert row(103, 40, 73) == pytest.approx([40, 63])  # which is a cap all the same
    assert row(160, 100, 0) == pytest.approx([100, 60])
    assert row(500, 101, 0) == pytest.approx([100] * 5)  # 1 g of it would be a batch more
    assert row(450, 101, 73) == pytest.approx([100] + [87.5] * 4)
    assert row(401, 101, 73) == pytest.approx([100] + [75.25] * 4)  # or two that are unproven
    assert row(480, 290, 0) == pytest.approx([290 / 3] * 3 + [95] * 2)


@FEW
@given(GRAMS, CAP, st.floats(1, 400))
def test_what_is_left_of_the_lots_limits_only_the_batches_of_it(
    grams: list[float], cap_g: float, left_g: float
) -> None:
    portions = groups(grams)
    cap, lot = Cap(int(cap_g * UG_PER_G), "cup"), Cap(int(left_g * UG_PER_G), "lot")
    row = batches(portions, [cap], 10, 3, lot=lot)
    free = batches(portions, [cap], 10, 3)
    assert sum(b.mass_ug for b in row) == sum(b.mass_ug for b in free)
    assert all(0 < b.mass_ug <= cap.most_ug for b in row)
    assert len(free) <= len(row) <= len(free) + 1
    ends = list(accumulate(b.mass_ug for b in row))
    if ends and ends[-1] > lot.most_ug:
        # No batch is of both: one ends where the lot does, or with the last whole group of it.
        turn = max([end for end in ends if end <= lot.most_ug], default=0)
        after = next(b for b, end in zip(row, ends, strict=True) if end > turn)
        first = next(part.mass_ug for part in after.parts if part.mass_ug)
        # Some is left over only where nothing of it makes the row longer.
        assert turn == lot.most_ug or turn + first > lot.most_ug or len(row) == len(free)
        assert all(
            b.decided_by in ("cup", "need") for b, e in zip(row, ends, strict=True) if e > turn
        )


@settings(max_examples=200)
@example((5, 6, 0, [25]))
@given(
    st.integers(3, 9).flatmap(
        lambda cap: st.tuples(
            st.just(cap),
            st.integers(1, 4 * cap),
            st.integers(0, cap),
            st.lists(st.integers(1, 3 * cap), min_size=1, max_size=6),
        )
    )
)
def test_what_is_left_of_a_lot_makes_the_row_no_longer_than_one_batch_of_it(
    found: tuple[int, int, int, list[int]],
) -> None:
    # Independent: of all rows, their ends to ten grams, with a first batch of the lot where any
    # can be made of it, the fewest batches, and the most of the lot that so many use.
    cap, lot, least, grams = found
    edges = [0, *accumulate(grams)]
    end = edges[-1]
    places = {*edges}.union(*(range(a, b) for a, b in pairwise(edges) if b - a > cap))
    of_lot = {place for place in places if 0 < place <= lot}
    if lot >= end or not of_lot:
        return
    best: dict[int, tuple[int, int]] = {end: (0, 0)}  # by the place: count, less what is used
    for a in sorted(places - {end}, reverse=True):
        best[a] = min(
            (best[b][0] + 1, min(-b if b in of_lot else 0, best[b][1]))
            for b in (of_lot if a == 0 else places)
            if a < b <= a + cap
        )
    ten_ug = 10 * UG_PER_G  # none of them is a crumb
    portions = groups(10.0 * g for g in grams)

    def row(least: int) -> tuple[int, int]:
        caps, most = [Cap(cap * ten_ug, "cup")], Cap(lot * ten_ug, "the lot")
        made = batches(portions, caps, 10, 3, lot=most, least_ug=least * ten_ug)
        ends_ug = accumulate(batch.mass_ug for batch in made)
        return len(made), -max(e for e in ends_ug if e <= most.most_ug) // ten_ug

    assert row(0) == best[0]
    assert row(least)[0] == best[0][0]


def test_a_small_rest_of_a_lot_limits_the_first_batch_alone() -> None:
    portions = groups([150.0, 150.0])
    caps, lot = [Cap(100 * UG_PER_G, "cup")], Cap(10 * UG_PER_G, "the lot")
    row = batches(portions, caps, 10, 3, lot=lot)
    assert masses(list(row)) == pytest.approx([10, 290 / 3, 290 / 3, 290 / 3], abs=2e-6)
    assert [b.decided_by for b in row] == ["the lot", "cup", "cup", "cup"]
    whole = groups([40.0, 40.0])
    (one,) = batches(whole, caps, 10, 3, lot=lot)  # no ply of it is cut for a lot
    assert (one.mass_ug, one.decided_by) == (80 * UG_PER_G, "need")


@pytest.mark.parametrize(
    ("grams", "lot_g", "expected"),
    [
        ([60.0, 60.0], 110, ["cup", "need"]),
        ([60.0, 30.0, 60.0], 99, ["the lot", "need"]),
        ([90.0, 60.0, 60.0], 200, ["cup", "cup", "need"]),
        ([60.0, 60.0], 120, ["cup", "cup"]),  # enough for all
        ([301.0], 201, ["cup", "cup", "the lot", "need"]),  # it ends the last of its own
        ([200.0], 101, ["cup", "need"]),  # 1 g of it is left over
    ],
)
def test_the_lot_is_named_only_where_it_ends_the_batch(
    grams: list[float], lot_g: int, expected: list[str]
) -> None:
    portions = groups(grams)
    caps, lot = [Cap(100 * UG_PER_G, "cup")], Cap(lot_g * UG_PER_G, "the lot")
    assert [b.decided_by for b in batches(portions, caps, 10, 3, lot=lot)] == expected


@FEW
@given(GRAMS, CAP, RATE, PREPARE)
def test_each_is_ready_when_the_last_cup_is_empty(
    grams: list[float], cap_g: float, rate: float, prepare: float
) -> None:
    row = row_of(grams, cap_g, rate, prepare)
    if row:
        assert row[0].mix_at_min == 0
    for one, after in pairwise(row):
        ready = after.mix_at_min + prepare
        assert ready == pytest.approx(max(one.empty_min, one.mix_at_min + 2 * prepare))
        assert after.mix_at_min >= one.mix_at_min + prepare - 1e-9  # one scale, one at a time
    for batch in row:
        uses = batch.mass_ug / UG_PER_G / rate
        assert batch.empty_min >= batch.mix_at_min + prepare + uses - 1e-9


@pytest.mark.parametrize(
    ("grams", "cap_g", "expected"),
    [
        ([30.0] * 4, 100, [60, 60]),  # not 90 and 30
        ([10.0] * 10, 45, [30, 30, 40]),
        ([12.0, 7.0, 10.0, 18.0], 19, [12, 17, 18]),
        ([7.0, 3.0, 4.0, 12.0], 12, [7, 7, 12]),
        ([200.0, 3.0], 100, [203 / 3] * 3),  # no crumb of 3 g
        ([60.0, 130.0, 60.0], 100, [250 / 3] * 3),  # the group that is cut anyway fills them up
        ([95.0, 110.0, 95.0], 100, [100] * 3),
        ([90.0, 130.0, 2.0, 2.0], 100, [90, 67, 67]),
        ([250.0], 100, [250 / 3] * 3),
        ([40.0, 0.0, 30.0], 100, [70]),
    ],
)
def test_a_small_rest_is_shared_out(grams: list[float], cap_g: float, expected) -> None:
    assert masses(row_of(grams, cap_g)) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize(
    ("portions", "cap_g", "expected"),
    [
        ([(99.0, 1), (2.1, 0)], 100, [50.55, 50.55]),  # a ply, then slurry
        ([(2.1, 0), (99.0, 1)], 100, [50.55, 50.55]),
        ([(1.66, 1), (50.0, 1)], 50, [25.83, 25.83]),
        ([(99.0, 0), (2.1, 2)], 100, [50.55, 50.55]),  # of a slurry no plies are parted
        ([(99.0, 1), (2.1, 2), (98.0, 2)], 100, [50.55, 50.55, 98]),
        ([(98.0, 1), (2.1, 2), (99.0, 1)], 100, [98, 50.55, 50.55]),  # of the fuller one
        ([(98.0, 2), (4.0, 1), (98.0, 2)], 100, [100, 100]),  # the crumb itself, and one less
        ([(98.0, 2), (1.5, 2), (1.5, 1), (98.0, 2)], 100, [99.5, 99.5]),
        (
            [(99.0, 1), (2.1, 0), (99.0, 2), (2.1, 0), (99.0, 1)],
            100,
            [50.55, 50.55, 99] + [50.55] * 2,
        ),
        ([(99.0, 2), (2.1, 0)], 100, [99, 2.1]),  # plies wetted together stay together
        ([(99.95, 2), (4.0, 1), (97.0, 2)], 100, [99.95, 4, 97]),  # nobody wets with 0.05 g
        ([(95.0, 1), (6.0, 1)], 100, [95, 6]),  # no crumb
        ([(6.0, 1), (3.0, 1)], 6, [6, 3]),  # that would be two
    ],
)
def test_a_crumb_is_shared_out_by_what_parts_no_plies(
    portions: list[tuple[float, int]], cap_g: float, expected: list[float]
) -> None:
    row = batches(some(portions), [Cap(round(cap_g * UG_PER_G), "cup")], 10, 3)
    assert masses(list(row)) == pytest.approx(expected, abs=2e-6)


def test_a_crumb_behind_a_lot_is_shared_out_by_less_of_the_lot() -> None:
    caps, lot = [Cap(100 * UG_PER_G, "cup")], Cap(61 * UG_PER_G, "the lot")
    row = batches(some([(60.0, 1), (2.0, 0)]), caps, 10, 3, lot=lot)
    assert masses(list(row)) == [31, 31]
    assert [batch.decided_by for batch in row] == ["the lot", "need"]
    # The other way it would take more of the lot than there is.
    row = batches(some([(58.0, 2), (2.9, 2), (99.0, 1)]), caps, 10, 3, lot=lot)
    assert masses(list(row)) == pytest.approx([60.9, 99])


@pytest.mark.parametrize(
    ("portions", "lot_g", "least_g", "expected"),
    [
        ([(98.8, 1), (2.1, 0)], 54.4, 42, [50.45, 50.45]),  # none of it is used: no limit
        ([(3.6, 0), (98.8, 1)], 13.6, 42, [51.2, 51.2]),  # it is left over: 13.6 proves nothing
        ([(3.6, 0), (98.8, 1)], 36.7, 42, [51.2, 51.2]),
        ([(50.0, 2), (2.5, 0)], 51.7, 42, [52.5]),  # one fresh batch, and no plies are parted
        ([(50.0, 1), (2.5, 0)], 51.7, 42, [52.5]),  # rather than two that are unproven
        ([(99.0, 2), (3.0, 0), (99.0, 1)], 103, 0, [99, 51, 51]),  # past the lot's end
        ([(60.0, 2), (3.0, 1), (99.0, 2)], 61, 0, [63, 99]),
    ],
)
def test_a_lot_leaves_no_crumb_that_can_be_shared_out(
    portions: list[tuple[float, int]], lot_g: float, least_g: int, expected: list[float]
) -> None:
    caps, lot = [Cap(100 * UG_PER_G, "cup")], Cap(round(lot_g * UG_PER_G), "the lot")
    row = batches(some(portions), caps, 10, 3, lot=lot, least_ug=least_g * UG_PER_G)
    assert masses(list(row)) == pytest.approx(expected, abs=2e-6)
    ends = accumulate(batch.mass_ug for batch in row)
    assert all(
        end <= lot.most_ug or batch.decided_by != "the lot"
        for batch, end in zip(row, ends, strict=True)
    )


def test_a_crumb_at_the_end_is_what_was_left_over() -> None:
    row = batches(some([(99.0, 2), (2.1, 0)]), [Cap(100 * UG_PER_G, "cup")], 10, 3)
    assert [batch.decided_by for batch in row] == ["cup", "need"]


def test_at_the_bench_no_ply_is_divided_for_a_crumb() -> None:
    # Its kit would come twice, once with what the first batch wetted of it already.
    caps, plies = [Cap(100 * UG_PER_G, "cup")], some([(98.8, 1), (2.1, 1)])
    assert masses(list(batches(plies, caps, 10, 3, at_bench=True))) == [98.8, 2.1]
    lot = Cap(51_700_000, "the lot")
    row = batches(some([(50.0, 1), (2.5, 1)]), caps, 10, 3, lot=lot, at_bench=True)
    assert [(b.mass_ug, b.decided_by) for b in row] == [
        (50_000_000, "the lot"),
        (2_500_000, "need"),
    ]


SMALL_OR_ALL_BUT_FULL = st.floats(0.2, 8) | st.floats(93, 100) | st.floats(5, 300)


@settings(max_examples=200)
@example([(99.0, 1), (2.1, 0)], 100.0, 42, None)
@example([(98.0, 2), (4.0, 1), (98.0, 2)], 100.0, 0, None)
@example([(98.8, 1), (2.1, 0)], 100.0, 42, 54.4)
@example([(50.0, 2), (2.5, 0)], 100.0, 42, 51.7)
@given(
    st.lists(st.tuples(SMALL_OR_ALL_BUT_FULL, st.integers(0, 2)), max_size=12),
    st.sampled_from([100.0, 50.0, 10.0]),
    st.sampled_from([0, 42]),
    st.none() | st.floats(1, 400),
)
def test_no_crumb_is_left_that_those_beside_it_could_share(
    portions: list[tuple[float, int]], cap_g: float, least_g: int, left_g: float | None
) -> None:
    cap_ug, least_ug = round(cap_g * UG_PER_G), least_g * UG_PER_G
    lot = None if left_g is None else Cap(round(left_g * UG_PER_G), "lot")

    def planned(lot: Cap | None, portions: list[tuple[float, int]]) -> list[Batch]:
        caps = [Cap(cap_ug, "cup")]
        return list(batches(some(portions), caps, 10, 3, lot=lot, least_ug=least_ug))

    row, uncut = planned(lot, portions), planned(lot, [(grams, 2) for grams, _ in portions])
    assert sum(b.mass_ug for b in row) == sum(b.mass_ug for b in uncut)
    assert len(row) <= len(uncut)
    assert all(0 < b.mass_ug <= cap_ug for b in row)
    ends = accumulate(b.mass_ug for b in row)
    assert all(e <= lot.most_ug for b, e in zip(row, ends, strict=True) if b.decided_by == "lot")
    parts = [part for batch in row for part in batch.parts]
    cut = {id(p.portion): p.portion for p in parts if not p.is_whole and fits(p.portion, cap_g)}
    assert all(len(portion.plies) < 2 for portion in cut.values())
    without_lot = planned(None, portions)
    if cut and masses(uncut) != masses(planned(None, [(grams, 2) for grams, _ in portions])):
        assert crumbs(uncut) or len(row) < len(uncut)  # for them alone
    assert crumbs(row) <= crumbs(without_lot)
    # What a first batch is at most that is of a lot; of less than a crumb none is made.
    of_lot = lot is not None and max(CRUMB_UG, row[0].mass_ug if row else 0) <= lot.most_ug
    first_most_ug = min(cap_ug, lot.most_ug) if lot and of_lot else cap_ug
    for at, crumb in enumerate(row):
        short_ug = CRUMB_UG - crumb.mass_ug
        if short_ug <= 0:
            continue
        beside = [(row[at - 1], -1)] if at else []
        beside += [(row[at + 1], 0)] if at + 1 < len(row) else []
        for batch, end in beside:
            if len(batch.parts[end].portion.plies) < 2:
                gives_ug = min(batch.parts[end].mass_ug, batch.mass_ug - CRUMB_UG)
                assert gives_ug < short_ug + 2 * TRIFLE_UG
        rooms = [cap_ug - batch.mass_ug for batch, _ in beside]
        if at == 1:
            rooms[0] = first_most_ug - row[0].mass_ug
        if len(rooms) == 2 and all(len(part.portion.plies) < 2 for part in crumb.parts):
            assert min(rooms) < TRIFLE_UG or sum(rooms) < crumb.mass_ug + 3 * TRIFLE_UG


def crumbs(row: Iterable[Batch]) -> int:
    return sum(batch.mass_ug < CRUMB_UG for batch in row)


def fits(portion: Portion, cap_g: float) -> bool:
    return portion.mix_g < cap_g + 2 / UG_PER_G


def test_a_row_worked_by_hand() -> None:
    # Two of 100 g at 10 g a minute, 3 min to prepare: the first is ready at 3 min and empty
    # at 13, so the second is mixed from 10 on, and empty at 23. Of 20 g the first is empty
    # at 5 min, but the scale is free at 3 alone.
    rows = [row_of([100.0, 100.0], 100), row_of([20.0, 20.0], 20)]
    times = [[(b.mix_at_min, b.empty_min) for b in row] for row in rows]
    assert times == [[(0, 13), (10, 23)], [(0, 5), (3, 8)]]


def test_without_a_cap_it_is_one_batch() -> None:
    portions = groups([70.0, 80.0])
    [batch] = batches(portions, [], 10, 3)
    assert batch.mass_ug == 150_000_000
    assert batches([], [], 10, 3) == ()


def test_it_says_which_limit_decided() -> None:
    assert {b.decided_by for b in row_of([90.0, 90.0], 100)} == {"cup"}
    assert [b.decided_by for b in row_of([90.0], 100)] == ["need"]
    assert row_of([], 100) == []
    assert row_of([0.0], 100) == []


def test_a_row_without_end_is_refused() -> None:
    assert len(row_of([float(MOST_BATCHES)], 1)) == MOST_BATCHES
    with pytest.raises(TooMany):
        row_of([MOST_BATCHES + 1.0], 1)
    with pytest.raises(TooMany):
        row_of([1e12], 1)
