"""What is to be poured, into what, on what: the fixed terms of one batch.

Pure values, resolved before the pour begins. Nothing here changes while epoxy is
in the cup; what changes is in :mod:`mixer.pour.state`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

UG_PER_G = 1_000_000

Role = Literal["resin", "hardener", "additive"]


@dataclass(frozen=True, slots=True)
class Component:
    """One jug of the recipe.

    ``parts`` are by weight. ``drip_s`` is how long its drips may fall after the jug
    is tipped back. The density only serves to read labels by volume. ``tolerance`` is an
    additive's own (a diluent, a pigment): how far it may be from its share of the resin,
    relative; one of several hardeners may have one, else it is that of the split. ``tag``
    is what a scanner reads off its container, where it has one.
    """

    name: str
    role: Role
    parts: float
    drip_s: float
    density_g_per_ml: float | None = None
    tolerance: float | None = None
    tag: str | None = None


@dataclass(frozen=True, slots=True)
class Recipe:
    """The components in the order in which they are poured.

    The first is the resin; among the others, in any order, is at least one hardener.
    ``ratio_tolerance`` is relative and binds the *sum* of the hardeners to the resin
    (0.03 = 3 %); ``split_tolerance`` is relative and loose: how far one of several
    hardeners may be from its own share, where it has no tolerance of its own. An
    additive is bound to the resin by itself.

    >>> resin = Component("resin", "resin", 100, 8)
    >>> two = Recipe((resin, Component("hardener", "hardener", 36, 3)), ratio_tolerance=0.03)
    >>> two.ratio, two.ratio_target
    (0.36, 36.0)
    """

    components: tuple[Component, ...]
    ratio_tolerance: float
    split_tolerance: float = 0.15

    @property
    def hardeners(self) -> tuple[int, ...]:
        """Which components are hardeners, in their order."""
        return tuple(i for i, c in enumerate(self.components) if c.role == "hardener")

    @property
    def additives(self) -> tuple[int, ...]:
        """Which components are neither resin nor hardener, in their order."""
        return tuple(i for i, c in enumerate(self.components) if c.role == "additive")

    @property
    def ratios(self) -> int:
        """How many are judged: of each additive, of all hardener, and of each of several."""
        hardeners = len(self.hardeners)
        return len(self.additives) + 1 + (hardeners if hardeners > 1 else 0)

    @property
    def ratio(self) -> float:
        """Hardener (all of it) per resin, by weight."""
        return sum(self.components[i].parts for i in self.hardeners) / self.components[0].parts

    @property
    def ratio_target(self) -> float:
        """The same per 100 of resin: the figure that stands on a label."""
        return round(100 * self.ratio, 9)  # 28, and no billionth more

    def of_resin(self, index: int) -> float:
        """This component per resin, by weight."""
        return self.components[index].parts / self.components[0].parts

    def share(self, index: int) -> float:
        """This component's part of the whole batch, 0 to 1."""
        return self.components[index].parts / sum(c.parts for c in self.components)


@dataclass(frozen=True, slots=True)
class Terms:
    """What one batch is poured under.

    ``size_ug`` is the mass asked for; ``cup_most_ug`` what the cup may hold and
    ``scale_most_ug`` what the scale may carry, cup included (``None``: not known).
    ``hands_free`` waits out the drips instead of asking for a key. The three after it are the
    scale's, from its profile (``None``: not known): the standard deviation of one settled
    weight, how far its line may be off, how far it may wander while a batch is poured.
    ``typed_division_ug`` is one step of a scale with no cable, whose weights are typed in;
    ``None`` where the scale is read. ``left_ug`` is what was left of each component's lot as the
    batch began (``None``: nobody said so; empty: of none).
    """

    recipe: Recipe
    size_ug: int
    cup_most_ug: int | None
    scale_most_ug: int | None
    stir_ms: int
    hands_free: bool
    repeatability_ug: int | None = None
    linearity_ug: int | None = None
    drift_ug: int = 0
    typed_division_ug: int | None = None
    left_ug: tuple[int | None, ...] = ()
