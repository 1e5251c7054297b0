"""What takes epoxy, as plain numbers: cloth, surfaces, thickened epoxy, and the way of working.

Values that are read from profiles elsewhere. This file must never make one up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["UNI", "BID", "tape"]
SurfaceKind = Literal["core", "peel ply"]


@dataclass(frozen=True, slots=True)
class Range:
    """A figure with the least and the most that it may well be.

    Ranges are added and multiplied end by end, not in quadrature: one hand and one roll of
    cloth are behind all plies, and err the same way in each.

    >>> Range(90, 100, 120) + Range(1, 2, 3), Range(1, 2, 3) * 2
    (Range(low=91, value=102, high=123), Range(low=2, value=4, high=6))
    """

    low: float
    value: float
    high: float

    def __add__(self, other: Range) -> Range:
        return Range(self.low + other.low, self.value + other.value, self.high + other.high)

    def __mul__(self, factor: float) -> Range:
        return Range(self.low * factor, self.value * factor, self.high * factor)

    def by(self, other: Range) -> Range:
        """The product of two, of which neither is below zero."""
        return Range(self.low * other.low, self.value * other.value, self.high * other.high)

    def at_least(self, other: Range) -> Range:
        """The larger of each."""
        return Range(
            max(self.low, other.low), max(self.value, other.value), max(self.high, other.high)
        )


NOTHING = Range(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Fabric:
    """A cloth. ``areal_spread`` is relative; ``together`` is how many plies are wetted at
    once; ``roll_mm`` its width, where the profile has it."""

    name: str
    kind: Kind
    areal_g_m2: float
    areal_spread: float
    fibre_g_ml: float
    together: int
    roll_mm: float | None


@dataclass(frozen=True, slots=True)
class Surface:
    """What takes up epoxy and is no cloth of the laminate: a core, a peel ply."""

    name: str
    kind: SurfaceKind
    uptake_g_m2: Range


@dataclass(frozen=True, slots=True)
class Mix:
    """One stiffness of thickened epoxy. ``by_volume`` is loose filler for one of epoxy,
    ``bulk_g_ml`` its loose density, ``true_g_ml`` that of its grains; ``source`` says where
    the figures are from."""

    filler: str
    name: str
    by_volume: Range
    bulk_g_ml: Range
    true_g_ml: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Method:
    """A way of wetting out. ``apply`` is epoxy by the cloth's own weight, ``resin_fraction``
    what should stay, by weight; ``lost`` the part of what is mixed that stays in cup and
    brush; ``rate_g_min`` how fast one person uses epoxy up."""

    name: str
    apply: Range
    resin_fraction: Range
    lost: Range
    rate_g_min: float
