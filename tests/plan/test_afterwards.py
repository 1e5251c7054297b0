"""The resin of a layup by its cups and rags: a range that holds the truth, whatever is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.plan.afterwards import KitPart, Share, balance, cloth_of, laid_g

LOST = (0.02, 0.08)
mass = st.floats(1, 300)
part = st.floats(0, 1)


def test_a_panel_worked_by_hand() -> None:
    # 720 g of glass, eight cups of 94 g of which 9 g stayed in the last, 2 to 8 % of the others
    # in cup and brush: 752 - 9 - 13.2 = 729.8 g at most, 752 - 9 - 60.2 = 682.8 g at least. 205 g
    # of it were squeegeed off, and weighed; the peel ply took 10 to 30 g.
    cups = [(94.0, (Share(94, used_up=True),))] * 7 + [(94.0, (Share(94, left_g=9),))]
    spans = [laid_g(whole, shares, LOST) for whole, shares in cups]
    laid = sum(low for low, _ in spans), sum(high for _, high in spans)
    assert laid == pytest.approx((682.84, 729.84))
    found = balance((720, 720), laid, (205, 205), (10, 30))
    assert found.resin_g == pytest.approx((447.84, 514.84))
    assert found.fraction == pytest.approx((447.84 / 1167.84, 514.84 / 1234.84))
    # Nobody weighed the rags: as little as nothing may have stayed.
    assert balance((720, 720), laid, None, (10, 30)).resin_g == pytest.approx((0, 719.84))
    assert balance((720, 720), laid, (205, 205), None).fraction[0] == 0


@given(
    st.lists(
        st.tuples(
            mass, part, part, st.sampled_from(["used-up", "left", "discard", "live", "flox"])
        ),
        min_size=1,
        max_size=5,
    ),
    st.booleans(),
    part,
    part,
    st.floats(50, 1000),
)
def test_the_truth_is_in_the_range(
    cups: list[tuple[float, float, float, str]],
    known: bool,
    squeegeed: float,
    peel: float,
    cloth_g: float,
) -> None:
    whole = sum(grams for grams, *_ in cups)
    shares, on_cloth = [], 0.0
    for grams, left, lost, end in cups:
        clings = grams * (LOST[0] + lost * (LOST[1] - LOST[0]))
        left_g = {"used-up": 0.0, "left": left * (grams - clings)}.get(end, left * grams)
        on_cloth += 0.0 if end == "flox" else max(0.0, grams - left_g - clings)
        most_g = grams if known or end not in ("flox", "used-up") else whole
        shares.append(
            Share(
                most_g,
                known=most_g == grams,
                left_g=left_g if end == "left" else None,
                used_up=end == "used-up",
                elsewhere=end == "flox",
            )
        )
    low, high = laid_g(whole, tuple(shares), LOST)
    assert low - 1e-6 <= on_cloth <= high + 1e-6
    wiped = on_cloth * squeegeed
    took = (on_cloth - wiped) * peel
    stays = on_cloth - wiped - took
    for weighed in ((wiped, wiped), None):
        found = balance((cloth_g * 0.95, cloth_g * 1.05), (low, high), weighed, (0, took + 1))
        assert found.resin_g[0] - 1e-6 <= stays <= found.resin_g[1] + 1e-6
        true = stays / (stays + cloth_g)
        assert found.fraction[0] - 1e-6 <= true <= found.fraction[1] + 1e-6
        assert 0 <= found.fraction[0] <= found.fraction[1] < 1


def test_each_kit_is_counted_once_however_often_it_was_a_batch() -> None:
    def cloth(*kits: tuple[str, float, float]) -> tuple[float, float, float]:
        found = cloth_of([KitPart(tag, grams, 0.0, (part, part)) for tag, grams, part in kits])
        return (*found.laid_g, found.to_come_g)

    assert cloth(("", 200, 1), ("", 200, 1)) == (400, 400, 0)  # two of them
    assert cloth(("", 200, 0.5), ("", 201, 0.5)) == (200.5, 200.5, 0)  # one, weighed twice
    assert cloth(("", 300, 0.3333), ("", 300, 0.3333), ("", 300, 0.3333)) == (300, 300, 0)
    assert cloth(("", 200, 0.5)) == (100, 200, 100)
    # What a lot was enough for, and then all of it again: one kit, or two.
    assert cloth(("", 200, 0.2), ("", 200, 1)) == (200, 400, pytest.approx(160))
    assert cloth(("", 200, 0.5), ("", 100, 1)) == (200, 300, 100)  # the rest, or another
    assert cloth(("1-2", 200, 0.5), ("1-2", 200, 0.5), ("1-2", 200, 0.5)) == (200, 200, 0)
    assert cloth(("1-2", 200, 0.5), ("3", 100, 1)) == (200, 300, 100)


@given(st.lists(st.tuples(st.floats(5, 300), st.integers(1, 4)), min_size=1, max_size=4))
def test_kits_that_are_used_up_in_even_parts_are_their_cloth(kits: list[tuple[float, int]]) -> None:
    told = [KitPart("", g, 0.0, (round(1 / n, 4),) * 2) for g, n in kits for _ in range(n)]
    low, high = cloth_of(told).laid_g
    whole = sum(g for g, _ in kits)
    assert low - 1e-6 <= whole * 1.021
    assert whole * 0.979 <= high + 1e-6
