"""A cup of thickened epoxy: how much filler to begin with, and what comes out.

This file must never give an amount without its spread: bulk densities vary, and it goes by
consistency in the end.
"""

from __future__ import annotations

from dataclasses import dataclass

from mixer.plan.cloth import Mix, Range
from mixer.science import thickened


@dataclass(frozen=True, slots=True)
class Thickened:
    """``epoxy_g`` is what to split off of a clear batch, ``filler_g`` what to begin with; the
    others are what comes out."""

    epoxy_g: float
    filler_g: Range
    volume_ml: Range
    density_g_ml: Range


def thicken(mix: Mix, epoxy_g: float, epoxy_g_ml: float) -> Thickened:
    """So much epoxy, thickened. Volume and density are of one and the same filler at its
    ends: the most filler makes the largest and lightest cup, where it is lighter than
    epoxy."""
    loose = [(mix.by_volume.low, mix.bulk_g_ml.low)]
    loose += [(mix.by_volume.value, mix.bulk_g_ml.value), (mix.by_volume.high, mix.bulk_g_ml.high)]
    filler = [thickened.filler_g(epoxy_g, v, bulk, epoxy_g_ml) for v, bulk in loose]
    volume = [
        epoxy_g / epoxy_g_ml * thickened.volume_by_epoxy(v, bulk, mix.true_g_ml)
        for v, bulk in loose
    ]
    density = [thickened.density_g_ml(v, bulk, mix.true_g_ml, epoxy_g_ml) for v, bulk in loose]
    least, most = min(density), max(density)
    return Thickened(epoxy_g, Range(*filler), Range(*volume), Range(least, density[1], most))


def epoxy_in(mix: Mix, cup_ml: float, fill: float, epoxy_g_ml: float) -> float:
    """The clear epoxy that has room in a cup once it is thickened: by the middle of its filler
    up to the part ``fill`` of it, so that it can be stirred, and with the most up to its brim."""
    comes_to = thicken(mix, 1.0, epoxy_g_ml).volume_ml
    return min(cup_ml * fill / comes_to.value, cup_ml / comes_to.high)


def epoxy_for(mix: Mix, volume_ml: float, epoxy_g_ml: float) -> Range:
    """The epoxy in so much of it, such as in a fillet: the more filler, the less epoxy."""

    def epoxy(by_volume: float, bulk_g_ml: float) -> float:
        return thickened.epoxy_g(volume_ml, by_volume, bulk_g_ml, mix.true_g_ml, epoxy_g_ml)

    return Range(
        epoxy(mix.by_volume.high, mix.bulk_g_ml.high),
        epoxy(mix.by_volume.value, mix.bulk_g_ml.value),
        epoxy(mix.by_volume.low, mix.bulk_g_ml.low),
    )
