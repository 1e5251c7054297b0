"""Profiles of what takes epoxy: fabrics, surfaces, fillers, and methods of wetting out.

Read as the other profiles are: what is not known is refused, each figure has its unit and
its range. This file must never fill in a weight or an uptake of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from mixer import units
from mixer.app.files.folders import Folders, find
from mixer.app.files.folders import Kind as Folder
from mixer.app.files.layup_lines import with_line
from mixer.app.files.toml_table import Table, read_toml
from mixer.plan.cloth import Fabric, Kind, Method, Mix, Range, Surface, SurfaceKind
from mixer.science.laminate import GLASS_G_ML

#: The largest part of a laminate that may be resin, by weight.
RESIN_MOST = 0.8
#: A stiffness is a word to say, and a cell of the record.
NAME = frozenset("abcdefghijklmnopqrstuvwxyz -")
_ENDS = ("low", "value", "high")
AREAL_LEAST_G_M2, AREAL_MOST_G_M2 = 10.0, 5000.0


def load_fabric(name_or_path: str, folders: Folders = None) -> Fabric:
    """The fabric of this name, or in this file. Raises :class:`ProfileError`.

    >>> load_fabric("uni-tape-650").together
    2
    """
    path, top = _opened("fabrics", name_or_path, folders)
    with with_line(path):
        kind: Kind = top.choice("kind", ("UNI", "BID", "tape"))
        fabric = Fabric(
            name=path.stem,
            kind=kind,
            areal_g_m2=top.quantity(
                "areal_weight",
                units.areal_g_m2,
                AREAL_LEAST_G_M2,
                AREAL_MOST_G_M2,
                "10 to 5000 g/m2",
            ),
            # Common practice, no source: what a roll differs from its label.
            areal_spread=top.tolerance("areal_spread", default="5 %"),
            fibre_g_ml=top.quantity(
                "fibre_density", units.density_g_per_ml, 0.9, 8, "0.9 to 8 g/mL"
            ),
            together=int(top.number("together", 1, 20, default=1, whole=True)),
            roll_mm=_roll_mm(top, kind),
        )
        top.close()
        return fabric


def plain_fabric(areal_weight: str, what: str = "fabric") -> Fabric:
    """A cloth of which only this weight is known, taken for glass.

    >>> plain_fabric("300 g/m2").areal_g_m2
    300.0
    """
    try:
        areal_g_m2 = units.areal_g_m2(areal_weight, what)
    except units.OutOfSpan:
        areal_g_m2 = 0.0
    if not AREAL_LEAST_G_M2 <= areal_g_m2 <= AREAL_MOST_G_M2:
        raise units.UnitsError(
            f"{what}: {units.shown(areal_weight)} is not within {AREAL_LEAST_G_M2:g} to "
            f"{AREAL_MOST_G_M2:g} g/m2; give an areal weight such as '300 g/m2' or '9 oz/yd2'"
        )
    name = f"cloth of {areal_g_m2:g} g/m2"
    return Fabric(name, "BID", areal_g_m2, 0.05, GLASS_G_ML, together=1, roll_mm=None)


def load_surface(name_or_path: str, folders: Folders = None) -> Surface:
    """The core surface or peel ply of this name, or in this file. Raises
    :class:`ProfileError`."""
    path, top = _opened("surfaces", name_or_path, folders)
    with with_line(path):
        kind: SurfaceKind = top.choice("kind", ("core", "peel ply"))
        uptake = _range(top, "uptake", _words(units.areal_g_m2, 1, 5000, "1 to 5000 g/m2"))
        top.close()
        return Surface(path.stem, kind, uptake)


def load_filler(name_or_path: str, folders: Folders = None) -> tuple[Mix, ...]:
    """What is mixed with this filler, each stiffness by its name. Raises
    :class:`ProfileError`."""
    path, top = _opened("fillers", name_or_path, folders)
    with with_line(path):
        source = top.text("source")
        true_g_ml = top.quantity("true_density", units.density_g_per_ml, 0.05, 8, "0.05 to 8 g/mL")
        span = f"0.01 g/mL up to the true density, {true_g_ml:g} g/mL"
        bulk = _range(top, "bulk_density", _words(units.density_g_per_ml, 0.01, true_g_ml, span))
        mixes = []
        for table in top.tables("mix"):
            name = table.text("name")
            if not 0 < len(name) <= 30 or set(name) - NAME:
                raise table.wrong("name", name, "up to 30 of the characters a-z, - and blanks")
            by_volume = _rising(table, _bare(0.1, 20))
            table.close()
            mixes.append(Mix(path.stem, name, by_volume, bulk, true_g_ml, source))
        if len({mix.name for mix in mixes}) < len(mixes) or not mixes:
            raise top.wrong(
                "mix", ", ".join(m.name for m in mixes), "one or more, each with its name"
            )
        top.close()
        return tuple(mixes)


def load_method(name_or_path: str, folders: Folders = None) -> Method:
    """The method of wetting out of this name, or in this file. Raises
    :class:`ProfileError`."""
    path, top = _opened("methods", name_or_path, folders)
    with with_line(path):
        method = Method(
            name=path.stem,
            apply=_range(top, "apply", _bare(0.1, 5)),
            resin_fraction=_range(top, "resin_fraction", _part(0, RESIN_MOST)),
            lost=_range(top, "lost", _part(0, 0.5)),
            rate_g_min=top.quantity("rate", units.rate_g_min, 0.1, 1000, "0.1 to 1000 g/min"),
        )
        top.close()
        return method


def _opened(kind: Folder, name_or_path: str, folders: Folders) -> tuple[Path, Table]:
    """Every profile says where it is from."""
    path = find(kind, name_or_path, folders)
    top = read_toml(path)
    with with_line(path):
        top.text("source")
        top.text("about", default="")
    return path, top


def _roll_mm(top: Table, kind: Kind) -> float | None:
    if not top.has("roll_width") and kind != "tape":
        return None
    return top.quantity("roll_width", units.length_mm, 5, 5000, "5 mm to 5 m")


def _range(top: Table, key: str, one: Callable[[Table, str], float]) -> Range:
    """A ``[key]`` with ``low``, ``value`` and ``high``."""
    table = top.table(key)
    found = _rising(table, one)
    table.close()
    return found


def _rising(table: Table, one: Callable[[Table, str], float]) -> Range:
    low, value, high = (one(table, end) for end in _ENDS)
    if not low <= value <= high:
        written = ", ".join(str(table.resolved[end]) for end in _ENDS)
        # Of three, one that is out of order with both others is the slip.
        slip = "high" if high < low <= value else "low" if value <= high < low else "value"
        raise table.wrong(slip, written, "low, value and high, none below the one before")
    return Range(low, value, high)


def _words(
    read: Callable[[str, str], float], least: float, most: float, span: str
) -> Callable[[Table, str], float]:
    return lambda table, key: table.quantity(key, read, least, most, span)


def _part(least: float, most: float) -> Callable[[Table, str], float]:
    return _words(units.fraction, least, most, f"{least:.0%} to {most:.0%}")


def _bare(least: float, most: float) -> Callable[[Table, str], float]:
    return lambda table, key: table.number(key, least, most)
