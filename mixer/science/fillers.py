"""How much of a filler to begin with: the trade tells it by volume, a scale by mass.

Plain numbers. A filler is mixed to a consistency, and its bulk density varies by 30 %
with how it was poured and how it lay (common practice, no source): this gives an amount
that is surely not too much, to be added to.
"""

from __future__ import annotations

BULK_DOUBT = 0.3  # by which a bulk density varies (common practice, no source)
USUAL_G_PER_ML = 1.1  # of mixed laminating epoxy (common practice, no source)


def start_g(
    epoxy_g: float,
    volumes: float,
    bulk_g_per_ml: float,
    epoxy_g_per_ml: float = USUAL_G_PER_ML,
) -> float:
    """Grams of filler to begin with, for so many grams of mixed epoxy.

    ``volumes`` is mL of loose filler to one mL of epoxy (micro slurry 1, wet micro 2 to 4,
    dry micro up to 5, flox 2: common practice, no source); ``bulk_g_per_ml`` the filler's
    density as it lies loose. The figure is of a filler that lies 30 % lighter than that, as
    what is too much cannot be taken out again:

        m = (epoxy_g / epoxy_g_per_ml) volumes bulk_g_per_ml (1 - 0.3)

    ValueError where a figure is not above zero.

    >>> round(start_g(33.0, 2, 0.15), 2)  # 30 mL of epoxy, 60 mL of a filler of 9.0 g
    6.3
    """
    for figure in (epoxy_g, volumes, bulk_g_per_ml, epoxy_g_per_ml):
        if not figure > 0:
            raise ValueError(f"{figure} was read; give masses and densities above zero.")
    return epoxy_g / epoxy_g_per_ml * volumes * bulk_g_per_ml * (1 - BULK_DOUBT)
