"""The bench on which pours are judged, as a grid of settings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from support.pouring import HARDENER, RESIN, TWO, terms

from devices.sim.indicator import ScaleSettings
from mixer.pour import bands, single
from mixer.pour.recipe import Component, Recipe, Terms
from mixer.practice.hands import CAREFUL, CARELESS, Hand

HANDS = {"careful": CAREFUL, "careless": CARELESS}
DIVISIONS_G = (0.01, 0.1, 1.0)
SIZES_G = (20, 40, 60, 120, 200, 400)
#: Filter (s), readings a second and repeatability (divisions): they take turns, seed by
#: seed, so that each of them meets each of the others.
SCALES = tuple(product((0.15, 0.3, 0.6), (4, 10, 20), (0.5, 1.0)))
#: How often the program asks a plain scale; ``None``: one that sends each figure by itself. The
#: table of the bench names neither, so that each setting is poured both ways.
ASKED_S = (None, 0.05)
BLEND = Recipe(
    (RESIN, Component("fast", "hardener", 24, 8), Component("slow", "hardener", 12, 8)),
    ratio_tolerance=0.03,
)
TINTED = Recipe(
    (RESIN, Component("pigment", "additive", 4, 8, tolerance=0.2), HARDENER), ratio_tolerance=0.03
)
#: Each with the sizes that it is poured in.
RECIPES = {
    "100 : 36": (TWO, SIZES_G),
    "100 : 24 : 12": (BLEND, (60, 200)),
    "100 : 4 pigment : 36": (TINTED, (60, 200)),
}


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
    recipe_name: str = "100 : 36"
    asked_every_s: float | None = None

    @property
    def recipe(self) -> Recipe:
        return RECIPES[self.recipe_name][0]

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
        return terms(self.size_g, recipe=self.recipe, repeatability_ug=repeatability_ug)

    @property
    def room_divisions(self) -> float:
        """How many divisions the narrowest acceptance band leaves either side of the target,
        for the resin that is asked for; 0 where this scale can prove nothing."""
        division_ug = round(self.division_g * 1e6)
        errors = bands.errors_of(self.terms, division_ug)
        resin_ug = round(self.terms.size_ug * self.recipe.share(0))
        low, high, provable = bands.hardener_limits(self.recipe, resin_ug, errors, 1)
        own = [
            single.limits(self.recipe, index, resin_ug, errors, single.Runs())
            for index in single.bound(self.recipe)
        ]
        narrowest = min([high - low, *(band.high_ug - band.low_ug for band in own)])
        proven = provable and all(band.provable for band in own)
        return narrowest / 2 / division_ug if proven else 0.0


def grid(seeds: int) -> Iterator[Setting]:
    """Every recipe, hand, resin, division and size, both ways, with this many seeds of each."""
    for (name, (_, sizes_g)), asked_every_s in product(RECIPES.items(), ASKED_S):
        for hand, warm, division_g, size_g in product(HANDS, (True, False), DIVISIONS_G, sizes_g):
            for seed in range(seeds):
                scale = SCALES[seed % len(SCALES)]
                yield Setting(hand, warm, division_g, size_g, *scale, seed, name, asked_every_s)
