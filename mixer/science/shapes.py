"""What the epoxy is in: a cup, a tray, a thin film, or a thick wet stack on foam.

A tray and a film are wide and shallow; a stack lies bare on foam, which hardly lets heat
through. It is wide (a spar root), or has foam at its sides too (flox in a joint): none is lost
there. It may be half glass, which takes up heat and gives none. What matters of it is how hot
the foam gets. Plain numbers in and out; this file must never say what a foam bears.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from mixer.science.heat import (
    AIR_W_M2K,
    BENCH_W_M2K,
    CONDUCTIVITY_W_M_K,
    FOAM_W_M2K,
    WALL_M2K_W,
    Body,
    conductance_w_k,
    filled_cup_m,
)

Kind = Literal["cup", "tray", "film", "stack"]

#: J/(g K), between the liquid's 1.9 at room temperature and more when hot (memory).
CAPACITY_J_G_K = 2.1

#: Of E-glass: J/(g K) and g/mL (handbook values, from memory).
GLASS_J_G_K = 0.8
GLASS_G_ML = 2.55

#: Of the cup that a label's mass, or a cup that nobody named, stands in (our choice).
FILLED = 0.6


#: What the verdict on foam leaves for the field being hotter than the lumped stack, and never
#: more than its own excess over the room again (our choice): by far more than the 4 degC of
#: tests/benchmarks/shapes.py, whose 288 cases may all have missed the brink of running away.
FIELD_HOTTER_K = 26.0


@dataclass(frozen=True, slots=True)
class Shape:
    """``cup_ml``: the volume of a cup, None for one that is filled to :data:`FILLED`.
    ``depth_m``: of the epoxy in a tray or a film, or of the whole stack; a cup has none.
    ``share``: what part of a stack's mass is epoxy, above 0 to 1; the rest is glass."""

    kind: Kind = "cup"
    cup_ml: float | None = None
    depth_m: float | None = None
    share: float = 1.0

    def __post_init__(self) -> None:
        if (self.kind == "cup") != (self.depth_m is None) or not 0 < self.share <= 1:
            raise ValueError(f"a {self.kind} of {self.depth_m} m, {self.share} of it epoxy")

    def mixed_c(self, start_c: float, air_c: float) -> float:
        """The temperature of epoxy at ``start_c`` on glass as warm as the room.

        >>> round(Shape("stack", depth_m=0.01, share=0.4).mixed_c(30, 20), 1)
        26.4
        """
        epoxy = self.share * CAPACITY_J_G_K
        return air_c + (start_c - air_c) * epoxy / self._capacity_j_g_k

    def size_m(self, mass_g: float, density_g_ml: float) -> tuple[float, float]:
        """Radius and depth of it, metres; mass and density are of the epoxy. What is not
        round is taken for a round one as large: with less of an edge it stays warmer.

        >>> tray = Shape("tray", depth_m=0.01)
        >>> [round(x, 3) for x in tray.size_m(110, 1.1)]
        [0.056, 0.01]
        """
        if self.depth_m is None:
            cup_ml = self.cup_ml or mass_g / density_g_ml / FILLED
            return filled_cup_m(mass_g, density_g_ml, cup_ml)
        volume_ml = mass_g / density_g_ml + mass_g * (1 / self.share - 1) / GLASS_G_ML
        return math.sqrt(volume_ml * 1e-6 / self.depth_m / math.pi), self.depth_m

    def body(
        self,
        mass_g: float,
        density_g_ml: float,
        heat_j_g: float,
        exchange: float = 1.0,
        conducts: float = 1.0,
    ) -> Body:
        """What reacts and cools. Mass, density and heat are of the epoxy; ``exchange``
        multiplies what passes from its surfaces to the room, ``conducts`` how well the epoxy
        itself does, but of a stack."""
        radius, depth = self.size_m(mass_g, density_g_ml)
        air = AIR_W_M2K * exchange
        if self.kind == "stack":
            stand = FOAM_W_M2K * exchange
            per_m2, _ = slab(depth, 1 / air, 1 / stand)
            passes = per_m2 * math.pi * radius**2  # its sides are more of it, or foam
        else:
            wall = 0.0 if self.kind == "film" else WALL_M2K_W
            stand = BENCH_W_M2K * exchange
            passes = conductance_w_k(
                radius,
                depth,
                air_w_m2k=air,
                stand_w_m2k=stand,
                wall_m2k_w=wall,
                conductivity_w_m_k=CONDUCTIVITY_W_M_K * conducts,
            )
        whole_g = mass_g / self.share
        return Body(whole_g, heat_j_g * self.share, self._capacity_j_g_k, passes)

    def foam_c(self, mean_c: float, air_c: float, exchange: float = 1.0) -> float:
        """How hot the foam under a stack gets where the stack's mean is ``mean_c``."""
        if self.depth_m is None:
            raise ValueError(f"under a {self.kind} there is no foam")
        _, ratio = slab(self.depth_m, 1 / (AIR_W_M2K * exchange), 1 / (FOAM_W_M2K * exchange))
        return air_c + (mean_c - air_c) * ratio

    def foam_most_c(self, mean_c: float, air_c: float, exchange: float = 1.0) -> float:
        """The same at most, as the field has it: a lumped stack runs away a little late.

        >>> stack = Shape("stack", depth_m=0.0127, share=0.4)
        >>> round(stack.foam_c(50, 20)), round(stack.foam_most_c(50, 20))
        (52, 78)
        """
        foam_c = self.foam_c(mean_c, air_c, exchange)
        return foam_c + min(FIELD_HOTTER_K, max(0.0, foam_c - air_c))

    @property
    def _capacity_j_g_k(self) -> float:
        return self.share * CAPACITY_J_G_K + (1 - self.share) * GLASS_J_G_K


def slab(
    depth_m: float,
    top_m2k_w: float,
    bottom_m2k_w: float,
    conductivity_w_m_k: float = CONDUCTIVITY_W_M_K,
) -> tuple[float, float]:
    r"""A wide slab that loses its heat upward and downward, unequally.

    .. math::
        T_b = \frac{q D\, r_b (r_t + D/2k)}{r_t + r_b + D/k}, \qquad
        \bar T = T_b \left(1 + \frac{D}{2 k r_b}\right) - \frac{q D^2}{6 k}

    Parameters
    ----------
    depth_m : D, above 0. top_m2k_w, bottom_m2k_w : r_t and r_b, from its faces to the
        room, above 0. conductivity_w_m_k : k, of the slab.

    Returns
    -------
    :math:`q D / \bar T`, the conductance from its mean to the room in W/(m2 K), and
    :math:`T_b / \bar T`, by how much its bottom is warmer than its mean, both above the
    room. ValueError for a size that is not above 0.

    Notes
    -----
    Steady, with heat that comes evenly: the solution of :math:`k T'' = -q`.
    :func:`mixer.science.heat.conductance_w_k` takes both faces for alike, which a stack on
    foam is not: nearly all of its heat goes up.

    Examples
    --------
    Half an inch on foam; the foam is warmer than the mean:

    >>> [round(x, 2) for x in slab(0.0127, 1 / 12, 1 / 1.2)]
    [10.99, 1.08]
    """
    for value in (depth_m, top_m2k_w, bottom_m2k_w, conductivity_w_m_k):
        if not 0 < value < math.inf:
            raise ValueError(f"a slab with a figure of {value}, which is not above 0")
    along = depth_m / conductivity_w_m_k
    bottom = bottom_m2k_w * (top_m2k_w + along / 2) / (top_m2k_w + bottom_m2k_w + along)
    mean = bottom * (1 + along / 2 / bottom_m2k_w) - along / 6
    return 1 / mean, bottom / mean
