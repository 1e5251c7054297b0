"""The bench on which pours are judged, as a grid of settings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from support.pouring import TWO, terms

from devices.sim.indicator import ScaleSettings
from mixer.pour import bands
from mixer.pour.recipe import Terms
from mixer.practice.hands import CAREFUL, CARELESS, Hand

HANDS = {"careful": CAREFUL, "careless": CARELESS}
DIVISIONS_G = (0.01, 0.1, 1.0)
SIZES_G = (20, 40, 60, 120, 200, 400)
#: Filter (s), readings a second and repeatability (divisions): they take turns, seed by
#: seed, so that each of them meets each of the others.
SCALES = tuple(product((0.15, 0.3, 0.6), (4, 10, 20), (0.5, 1.0)))


@dataclass(frozen=True, slots=True)
class Setting:
    """One pour: whose hand, which resin, what is asked for, on which scale."""

    hand: str
    warm: bool
    division_g: float
    size_g: float
    filter_s: float
    readings_per_s: float
    repeatability: float
    seed: int

    @property
    def person(self) -> Hand:
        return HANDS[self.hand]

    @property
    def scale(self) -> ScaleSettings:
        return ScaleSettings(
            division_g=self.division_g,
            readings_per_s=self.readings_per_s,
            repeatability_g=self.repeatability * self.division_g,
            filter_s=self.filter_s,
        )

    @property
    def terms(self) -> Terms:
        """What the program knows: of the scale what its profile would say."""
        repeatability_ug = round(self.repeatability * self.division_g * 1e6)
        return terms(self.size_g, repeatability_ug=repeatability_ug)

    @property
    def room_divisions(self) -> float:
        """How many divisions the acceptance band leaves either side of the target, for the
        resin that is asked for; 0 where this scale can prove nothing."""
        division_ug = round(self.division_g * 1e6)
        errors = bands.errors_of(self.terms, division_ug)
        resin_ug = round(self.terms.size_ug * TWO.share(0))
        low, high, provable = bands.hardener_limits(TWO, resin_ug, errors, 1)
        return (high - low) / 2 / division_ug if provable else 0.0


def grid(seeds: int) -> Iterator[Setting]:
    """Every hand, resin, division and size, with this many seeds of each."""
    for hand, warm, division_g, size_g in product(HANDS, (True, False), DIVISIONS_G, SIZES_G):
        for seed in range(seeds):
            filter_s, readings_per_s, repeatability = SCALES[seed % len(SCALES)]
            yield Setting(
                hand, warm, division_g, size_g, filter_s, readings_per_s, repeatability, seed
            )
