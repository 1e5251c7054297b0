"""How far a share's lumped clock is from the field: `python -m tests.benchmarks.shares`.

The whole stands until a share of it is taken out; pouring mixes it, so that the share begins
as warm, and as far reacted, as the whole was on the mean, and goes on in a cup of its own. Each
model is fitted to the same label by itself. Takes about a minute.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator

from mixer.science.cure import Cure
from mixer.science.fitting import fit
from mixer.science.heat import filled_cup_m
from mixer.science.heat_field import cylinder, solve
from mixer.science.label import HEAT_J_G, follow
from mixer.science.pot_life import Label, Point
from mixer.science.shapes import CAPACITY_J_G_K, FILLED
from tests.benchmarks.heat import DENSITY, field, fitted_field

WHOLES = (60.0, 120.0, 300.0)
PARTS = (0.1, 0.25, 0.5)
WHEN = (0.15, 0.4, 0.7)  # of the whole's time to the end
AIR = (15.0, 25.0, 35.0)


def parted(
    cure: Cure, whole_g: float, share_g: float, at_s: float, air_c: float, until_s: float
) -> float | None:
    """When the mean of the share is at this cure's gel, from first contact on."""
    before = field(cure, whole_g, None, air_c, air_c, at_s)
    mean_c = air_c + before.stored_j / (whole_g * CAPACITY_J_G_K)
    reacted = before.heat_j / (HEAT_J_G * whole_g)
    after = solve(
        cylinder(*filled_cup_m(share_g, DENSITY, share_g / DENSITY / FILLED)),
        cure.rate_per_s,
        air_c,
        mean_c,
        until_s - at_s,
        heat_j_g=HEAT_J_G,
        capacity_j_g_k=CAPACITY_J_G_K,
        density_g_ml=DENSITY,
        gel=cure.gel,
        start_conversion=reacted,
    )
    return None if after.gel_s is None else at_s + after.gel_s


def compared(minutes: float, ends: str) -> Iterator[tuple[str, float]]:
    """For each case: what it is, and the lumped time to this end against the field's, less 1."""
    label = Label((Point(100, 25, minutes),), ends, DENSITY)
    system, cure = fit(label), fitted_field(label)
    place = 1 if ends == "gel" else 0
    for whole_g, part, when, air_c in itertools.product(WHOLES, PARTS, WHEN, AIR):
        whole_s = follow(system, label, whole_g, air_c, air_c).reached_s[place]
        if whole_s is None:
            continue
        left = [(whole_s * when, whole_g * part, None)]
        lumped_s = follow(system, label, whole_g, air_c, air_c, left=left).reached_s[place]
        if lumped_s is None:
            continue
        found_s = parted(cure, whole_g, whole_g * part, left[0][0], air_c, lumped_s * 3)
        assert found_s is not None
        what = f"{part:.0%} of {whole_g:g} g after {left[0][0] / 60:.0f} min, air {air_c:g}"
        yield what, lumped_s / found_s - 1


def main() -> None:
    labels = [float(word) for word in sys.argv[1:]] or [8.0, 25.0, 60.0, 240.0]
    for minutes, ends in itertools.product(labels, ("gel", "usable")):
        cases = list(compared(minutes, ends))
        low, high = min(cases, key=lambda case: case[1]), max(cases, key=lambda case: case[1])
        within = sum(1 / 1.1 <= 1 + off <= 1.1 for _, off in cases)
        print(
            f"label of {minutes:g} min, {ends}: {len(cases)} cases, within 10 % in {within}; "
            f"{low[1]:+.1%} ({low[0]}) to {high[1]:+.1%} ({high[0]})",
            flush=True,
        )


if __name__ == "__main__":
    main()
