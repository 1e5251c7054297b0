"""Batches one after another at the same scale: with what the earlier ones taught, beside without.

``PYTHONPATH=tests python -m closed_loop.series [BATCHES]`` in the checkout (12 unless given;
some six minutes on two cores). Each hand and resin by itself; and two series that are to be
none the worse for it: a resin that gets cold though nobody says so, and two hands that pour
warm and cold in turn under one name. Same seeds on both sides; the first batch, of which
nothing can be known, is left out.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from statistics import mean
from typing import NamedTuple

from closed_loop.poured import Poured, pour
from closed_loop.settings import HANDS, SCALES, Setting
from mixer.pour.taught import Lesson, medians

#: Hand, and whether the resin is warm, batch by batch.
DAYS = {
    **{
        f"{hand}, {'warm' if warm else 'cold'}": [(hand, warm)]
        for hand, warm in product(HANDS, (True, False))
    },
    "careful, gets cold": [("careful", True)] * 5 + [("careful", False)] * 5,
    "careless, gets cold": [("careless", True)] * 5 + [("careless", False)] * 5,
    "all in turn": list(product(HANDS, (True, False))),
}
#: Division and size, in grams: where a hand is put to the test.
SIZES = ((0.01, 20), (0.01, 40), (0.01, 60), (0.01, 120), (0.1, 60), (0.1, 120))


class Series(NamedTuple):
    """``scale``: which of SCALES; ``taught``: whether each is handed what came before."""

    day: str
    division_g: float
    size_g: float
    scale: int
    batches: int
    taught: bool


def poured(series: Series) -> list[Poured]:
    """All batches of it, in their order."""
    lessons: list[Lesson] = []
    done = []
    for number in range(series.batches):
        hand, warm = DAYS[series.day][number % len(DAYS[series.day])]
        seed = 1000 * (series.scale + 1) + number
        scale = SCALES[series.scale]
        setting = Setting(hand, warm, series.division_g, series.size_g, *scale, seed)
        done.append(pour(setting, True, medians(lessons, 2) if series.taught else None))
        lessons += done[-1].lessons
    return done


def every(batches: int) -> Iterator[Series]:
    places = product(DAYS, SIZES, range(2))
    for number, (day, (division_g, size_g), _) in enumerate(places):
        for taught in (False, True):
            scale = 5 * number % len(SCALES)
            yield Series(day, division_g, size_g, scale, batches, taught)


def line(some: Sequence[Poured]) -> str:
    at_once = sum(p.at_once for p in some) / len(some)
    return (
        f"{len(some):6}{at_once:9.1%}{sum(p.over for p in some):7}"
        f"{sum(p.additions for p in some):8}{sum(p.called == 'in-band' for p in some):9}"
        f"{sum(p.false for p in some):7}{mean(p.seconds for p in some):8.1f} s"
    )


def main() -> None:
    work = list(every(int(sys.argv[1]) if len(sys.argv) > 1 else 12))
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        done = list(zip(work, pool.map(poured, work, chunksize=2), strict=True))
    print(f"{'':29}{'pours':>6}{'at once':>9}{'over':>7}{'top-ups':>8}{'in band':>9}{'false':>7}")
    for day in (*DAYS, "all of them"):
        for taught in (False, True):
            pours = [
                one
                for series, several in done
                if day in (series.day, "all of them") and series.taught is taught
                for one in several[1:]
            ]
            print(f"{day:21}{'taught' if taught else 'alone':8}{line(pours)}")


if __name__ == "__main__":
    main()
