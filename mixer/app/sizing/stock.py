"""What is left of the lots, as the builder says it: a cap of the batches that are made of it.

Must never take a component of which nobody said anything for scarce, or for enough.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from mixer import units
from mixer.app.files.profiles import ResinProfile
from mixer.app.sentence import NotDone
from mixer.plan.batches import CRUMB_UG, UG_PER_G, Batch, Cap


@dataclass(frozen=True, slots=True)
class Stock:
    """``most_ug`` is the mix that can be made of it, ``name`` the component that ends first, and
    ``share`` its part of the mix."""

    most_ug: int
    name: str
    share: float

    @property
    def lot(self) -> Cap | None:
        """For the batches that are made of it; those of a fresh lot are not limited by it. None
        where it makes but a crumb."""
        if self.most_ug < CRUMB_UG:
            return None
        return Cap(self.most_ug, f"what is left of the {self.name}")

    def short(self, row: Sequence[Batch]) -> list[str]:
        """What is missing for this row of batches, in a sentence; nothing where it is enough."""
        total_ug, of_it_ug, first = 0, 0, 0
        for number, batch in enumerate(row, 1):
            total_ug += batch.mass_ug
            if total_ug <= self.most_ug:
                of_it_ug = total_ug
            first = first or (number if total_ug > self.most_ug else 0)
        if not first:
            return []
        grams = self.share / UG_PER_G
        missing_g, takes_g = (total_ug - self.most_ug) * grams, (total_ug - of_it_ug) * grams
        return [
            f"From batch {first} on what is left of the {self.name} is not enough: "
            f"{missing_g:.0f} g of it are missing. Of another lot, which takes {takes_g:.0f} g of "
            "it, begin with a fresh cup."
        ]


def each_said(text: str | None) -> list[str]:
    """What was said of several in one line.

    >>> each_said("resin=0,9 kg, slow hardener=300g; resin=1g"), each_said(None)
    (['resin=0,9 kg', 'slow hardener=300g', 'resin=1g'], [])
    """
    return re.split(r"\s*[,;]\s*(?=[^=,;]+=)", text.strip()) if text else []


def stock(said: Sequence[str], resin: ResinProfile | None) -> Stock | None:
    """Of ``NAME=MASS`` each; None where nothing was said. Raises :class:`NotDone`."""
    if not said:
        return None
    if resin is None:
        raise NotDone("left: of which resin? give --resin NAME or FILE with it")
    recipe, left_ug = resin.recipe(), each_left_ug(said, resin)
    each = [
        Stock(
            math.floor(round(left_ug[component.name] / recipe.share(at), 3)),
            component.name,
            recipe.share(at),
        )
        for at, component in enumerate(recipe.components)
        if component.name in left_ug
    ]
    return min(each, key=lambda one: one.most_ug)


def each_left_ug(said: Sequence[str], resin: ResinProfile) -> dict[str, int]:
    """What is left of each component of which something was said. Raises :class:`NotDone`."""
    recipe, left_ug = resin.recipe(), dict[str, int]()
    names = [component.name for component in recipe.components]
    for word in said:
        name, is_there, text = word.partition("=")
        if not is_there or name not in names or name in left_ug:
            raise NotDone(
                f"left: {units.shown(word)} was read; give NAME=MASS such as {names[0]}=900g, each "
                f"once, the names of {resin.name} being {', '.join(names)}"
            )
        left_ug[name] = units.mass_ug(text, f"left of {name}")
        if left_ug[name] <= 0:
            raise NotDone(f"left: of {name} nothing is left; a batch needs some of it")
    return left_ug
