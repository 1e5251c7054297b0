"""The same cup with its hot middle: an axisymmetric model of finite volumes.

It is the reference that the lumped model is held against, and far too slow for the bench;
nothing that a builder sees may wait for it. A mesh is volumes, the conductances between
neighbours, and those to the room; so the same solver takes a cylinder of epoxy, a slab, or
a ball. numpy and scipy are loaded inside the calls.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from mixer.science.cure import ZERO_C_K
from mixer.science.heat import AIR_W_M2K, BENCH_W_M2K, CONDUCTIVITY_W_M_K, WALL_M2K_W

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Places = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Mesh:
    """Cells of epoxy. ``volume_m3`` of each; ``link_w_k`` from cell ``one`` to cell
    ``other``, once for each pair of neighbours; ``room_w_k`` of each to the room;
    ``middle`` is the cell that a probe in the middle would touch."""

    volume_m3: Numbers
    one: Places
    other: Places
    link_w_k: Numbers
    room_w_k: Numbers
    middle: int


@dataclass(frozen=True, slots=True)
class FieldCourse:
    """What became of it. ``gel_s`` is when the mean conversion reached the gel point,
    ``first_gel_s`` when the first cell did (None: neither within the time); ``peak_c``
    is of the middle, ``peak_mean_c`` of the mean. ``heat_j`` is what reacted gave off,
    ``stored_j`` what is still in it and ``lost_j`` what went to the room, at the end;
    ``stopped``: the hottest cell passed the temperature at which to stop."""

    gel_s: float | None
    first_gel_s: float | None
    peak_c: float
    peak_mean_c: float
    heat_j: float
    stored_j: float
    lost_j: float
    stopped: bool


def cylinder(
    radius_m: float,
    depth_m: float,
    rings: int = 10,
    layers: int = 12,
    *,
    side_m2k_w: float = 1 / AIR_W_M2K + WALL_M2K_W,
    top_m2k_w: float = 1 / AIR_W_M2K,
    bottom_m2k_w: float = 1 / BENCH_W_M2K,
    conductivity_w_m_k: float = CONDUCTIVITY_W_M_K,
) -> Mesh:
    """An upright cylinder in rings of one width and layers of one height.

    The three resistances lie between surface and room; 0 holds the surface at the room's
    temperature, infinity lets no heat through (``rings=1`` with a side like that is a
    slab, ``layers=1`` with such ends a long cylinder).

    >>> mesh = cylinder(0.03, 0.04)
    >>> bool(abs(mesh.volume_m3.sum() / (math.pi * 0.03**2 * 0.04) - 1) < 1e-12)
    True
    """
    import numpy as np

    k = conductivity_w_m_k
    width, height = radius_m / rings, depth_m / layers
    edges = np.arange(rings + 1) * width
    floor = math.pi * (edges[1:] ** 2 - edges[:-1] ** 2)
    cell = np.arange(rings * layers).reshape(layers, rings)
    outward = np.tile(k * 2 * math.pi * edges[1:-1] * height / width, (layers, 1))
    upward = np.tile(k * floor / height, (layers - 1, 1))
    room = np.zeros((layers, rings))
    room[:, -1] += 2 * math.pi * radius_m * height / (side_m2k_w + width / 2 / k)
    room[0] += floor / (bottom_m2k_w + height / 2 / k)
    room[-1] += floor / (top_m2k_w + height / 2 / k)
    return Mesh(
        volume_m3=np.tile(floor * height, layers),
        one=np.concatenate([cell[:, :-1].ravel(), cell[:-1].ravel()]),
        other=np.concatenate([cell[:, 1:].ravel(), cell[1:].ravel()]),
        link_w_k=np.concatenate([outward.ravel(), upward.ravel()]),
        room_w_k=room.ravel(),
        middle=int(cell[layers // 2, 0]),
    )


def solve(
    mesh: Mesh,
    rate_per_s: Callable[..., Any],
    air_c: float,
    start_c: float,
    until_s: float,
    *,
    heat_j_g: float,
    capacity_j_g_k: float,
    density_g_ml: float,
    gel: float = 1.0,
    start_conversion: float = 0.0,
    stop_c: float = 1000.0,
    tolerance: float = 1e-4,
) -> FieldCourse:
    r"""Temperature and conversion of every cell from the first contact of hardener on.

    .. math::
        \rho c V_i \frac{dT_i}{dt} = \rho H V_i r(\alpha_i, T_i)
            + \sum_j g_{ij} (T_j - T_i) - g_i (T_i - T_\mathrm{air})

    Parameters
    ----------
    mesh : where the epoxy is, and how heat passes.
    rate_per_s : of conversions, temperatures in K and the exponential for arrays of
        them, such as :meth:`Cure.rate_per_s`.
    air_c, start_c, until_s : as in :func:`mixer.science.heat.lumped`.
    heat_j_g, capacity_j_g_k, density_g_ml : of the mixed epoxy.
    gel : the conversion to look for. start_conversion : what has reacted already, as in a
        share that was mixed up as it was poured; its heat is not counted. stop_c : end where
        a cell gets hotter than this.
    tolerance : relative, of each step.

    Notes
    -----
    No flow: a cup that is still liquid mixes its heat a little, so that the truth lies
    between this model and the lumped one. A front that runs outward heats the last corner
    above what the reaction alone can; a probe in the middle does not see it, so that
    ``peak_c`` is the middle's, as in ASTM D2471.

    Examples
    --------
    With the room as warm as the epoxy and nothing that reacts, nothing happens:

    >>> def idle(alpha, temp, exp): return 0 * temp
    >>> still = solve(cylinder(0.03, 0.04), idle, 20, 20, 600,
    ...     heat_j_g=380, capacity_j_g_k=2.1, density_g_ml=1.1)
    >>> round(still.peak_c, 9), still.gel_s
    (20.0, None)
    """
    import numpy as np
    from scipy import sparse
    from scipy.integrate import solve_ivp

    n = len(mesh.volume_m3)
    air_k = air_c + ZERO_C_K
    share = mesh.volume_m3 / mesh.volume_m3.sum()
    grams = density_g_ml * 1e6 * mesh.volume_m3
    capacity = grams * capacity_j_g_k
    places = (
        np.concatenate([mesh.one, mesh.other, mesh.one, mesh.other]),
        np.concatenate([mesh.other, mesh.one, mesh.one, mesh.other]),
    )
    flows = np.concatenate([mesh.link_w_k, mesh.link_w_k, -mesh.link_w_k, -mesh.link_w_k])
    between = sparse.coo_matrix((flows, places), shape=(n, n)).tocsr()

    def change(t: float, y: Numbers) -> Numbers:
        temps = y[n : 2 * n]
        rates = rate_per_s(y[:n], temps, np.exp)
        out = mesh.room_w_k * (temps - air_k)
        warming = (between @ temps - out) / capacity + heat_j_g / capacity_j_g_k * rates
        return np.concatenate([rates, warming, [out.sum()]])

    def mean_gels(t: float, y: Numbers) -> float:
        return float(share @ y[:n] - gel)

    def first_gels(t: float, y: Numbers) -> float:
        return float(y[:n].max() - gel)

    def too_hot(t: float, y: Numbers) -> float:
        return float(y[n : 2 * n].max() - ZERO_C_K - stop_c)

    too_hot.terminal = True  # type: ignore[attr-defined]
    own = sparse.eye(n)
    touching = (abs(between) + own).astype(bool).astype(float)
    none, last = sparse.csr_matrix((n, 1)), sparse.csr_matrix((1, n))
    hands_on = sparse.csr_matrix((mesh.room_w_k > 0).astype(float))
    found = solve_ivp(
        change,
        (0.0, until_s),
        np.concatenate([np.full(n, start_conversion), np.full(n, start_c + ZERO_C_K), [0.0]]),
        method="BDF",
        jac_sparsity=sparse.bmat(
            [[own, own, none], [own, touching, none], [last, hands_on, np.zeros((1, 1))]]
        ),
        events=[mean_gels, first_gels, too_hot],
        rtol=tolerance,
        atol=tolerance * 0.1,
    )
    temps = found.y[n : 2 * n] - ZERO_C_K
    gel_s, first_gel_s = (float(at[0]) if len(at) else None for at in found.t_events[:2])
    return FieldCourse(
        gel_s=gel_s,
        first_gel_s=first_gel_s,
        peak_c=float(temps[mesh.middle].max()),
        peak_mean_c=float((share @ temps).max()),
        heat_j=float(heat_j_g * (grams @ (found.y[:n, -1] - start_conversion))),
        stored_j=float(capacity @ (temps[:, -1] - start_c)),
        lost_j=float(found.y[-1, -1]),
        stopped=bool(len(found.t_events[2])),
    )
