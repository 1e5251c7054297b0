"""A layup schedule as a builder writes it: TOML, or a table of plies as CSV.

One file, its steps in the order of the work, that can be read aloud and kept under version
control. A slip is refused with the file, the step and ply or the line, and what is
accepted. This file must never leave out a ply that is written.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from itertools import count as counting
from pathlib import Path
from typing import TypeVar

from mixer.app.files.cloth import load_fabric, load_filler, load_surface
from mixer.app.files.folders import Kind, find, names
from mixer.app.files.layup_lines import with_line
from mixer.app.files.outline import areas_m2, dimension_mm
from mixer.app.files.toml_table import ProfileError, Table, read_toml
from mixer.plan.cloth import Fabric, Mix
from mixer.plan.layup import Bead, Coat, Layup, Plies, Ply, Step, spoken
from mixer.science.laminate import fillet_area_mm2

T = TypeVar("T")
LARGEST = 1024 * 1024  # bytes; 500 plies, each written out, have a tenth of it
MOST_PLIES = 2000
USUAL_METHOD = "squeegee"
KINDS = ("plies", "slurry", "joint", "fillet", "peel ply")
ANGLE = "an angle such as '45 deg' or '±45 deg', up to 180"
_ANGLE = re.compile(r"[+±-]?\s*([0-9]{1,3}(?:\.[0-9]{1,3})?)\s*(?:deg|°)")


def load_layup(name_or_path: str) -> Layup:
    """The layup in this file, or the shipped one of this name. Raises
    :class:`ProfileError`.

    >>> [ply.number for ply in load_layup("demo-panel").plies][-1]
    13
    """
    if name_or_path.lower().endswith(".csv"):
        from mixer.app.files.ply_table import load_table

        return load_table(Path(name_or_path))
    path = find("layups", name_or_path)
    top = read_toml(path, LARGEST)
    with with_line(path):
        return _layup(path, top)


def _layup(path: Path, top: Table) -> Layup:
    top.text("source")
    top.text("about", default="")
    method = _known(top, "method", "methods") if top.has("method") else USUAL_METHOD
    resin = _known(top, "resin", "resins") if top.has("resin") else None
    cup = _known(top, "cup", "cups") if top.has("cup") else None
    reader = StepReader()
    steps = tuple(reader.step(table) for table in top.tables("step"))
    if not steps:
        raise top.wrong("step", "none", "one or more [[step]]")
    top.close()
    return Layup(path.stem, steps, method, resin, cup)


class StepReader:
    """Reads step by step, and numbers plies through all of them."""

    def __init__(self) -> None:
        self._fabrics: dict[str, Fabric] = {}
        self._numbers = counting(1)
        self._entries = counting(1)

    def step(self, table: Table) -> Step:
        """One ``[[step]]``. Raises :class:`ProfileError`."""
        name = table.text("name")
        kind = table.choice("kind", KINDS)
        read: dict[str, Callable[[Table, str], Step]] = {
            "plies": self._plies,
            "slurry": partial(_coat, kind="core"),
            "peel ply": partial(_coat, kind="peel ply"),
            "joint": _joint,
            "fillet": _fillet,
        }
        step = read[kind](table, name)
        table.close()
        return step

    def ply(self, table: Table) -> tuple[Ply, ...]:
        """One ``[[step.ply]]``, which may be several plies. Raises :class:`ProfileError`."""
        fabric = self._fabric(table)
        orientation = table.text("orientation", default="")
        if orientation:
            match = _ANGLE.fullmatch(orientation)
            if match is None or float(match[1]) > 180:
                raise table.wrong("orientation", orientation, ANGLE)
        count = _count(table)
        areas = areas_m2(table, count, fabric.roll_mm, is_tape=fabric.kind == "tape")
        table.close()
        entry = next(self._entries)
        plies = tuple(Ply(next(self._numbers), entry, fabric, a, orientation) for a in areas)
        if plies[-1].number > MOST_PLIES:
            raise table.wrong("count", count, f"a layup of up to {MOST_PLIES} plies in all")
        return plies

    def _plies(self, table: Table, name: str) -> Plies:
        together = None
        if table.has("together"):
            together = int(table.number("together", 1, 20, whole=True))
        plies = tuple(ply for each in table.tables("ply") for ply in self.ply(each))
        if not plies:
            raise table.wrong("ply", "none", "one or more [[step.ply]]")
        return Plies(name, plies, together)

    def _fabric(self, table: Table) -> Fabric:
        name = table.text("fabric")
        if name not in self._fabrics:
            self._fabrics[name] = _loaded(load_fabric, table, "fabric", "fabrics")
        return self._fabrics[name]


def _loaded(load: Callable[[str], T], table: Table, key: str, kind: Kind) -> T:
    """The profile; what is wrong in its file is told with the place that names it."""
    name = _known(table, key, kind)
    try:
        return load(name)
    except ProfileError as error:
        raise table.named(key, error) from None


def _known(table: Table, key: str, kind: Kind) -> str:
    """The name of a profile that stands in this file, or its path as seen from there."""
    name = table.text(key)
    try:
        path = find(kind, name)
    except ProfileError as error:
        accepted = str(error).partition("; give ")[2]
        raise table.wrong(key, name, accepted) from None
    if path != Path(name):
        return name
    there = table.folder / name
    if not there.is_file():
        known = ", ".join(names(kind))
        accepted = f"one of {known}, or the path of a .toml file that is there, from {table.folder}"
        raise table.wrong(key, name, accepted)
    return str(there)


def _coat(table: Table, name: str, *, kind: str) -> Coat:
    surface = _loaded(load_surface, table, "surface", "surfaces")
    if surface.kind != kind:
        raise table.wrong("surface", table.text("surface"), f"a surface of the kind {kind!r}")
    areas = areas_m2(table, _count(table))
    mix = _mix(table) if kind == "core" and table.has("filler") else None
    return Coat(name, surface, sum(areas), mix)


def _joint(table: Table, name: str) -> Bead:
    mix = _mix(table)
    section_mm2 = dimension_mm(table, "width") * dimension_mm(table, "depth")
    return _bead(table, name, mix, section_mm2)


def _fillet(table: Table, name: str) -> Bead:
    mix = _mix(table)
    return _bead(table, name, mix, fillet_area_mm2(dimension_mm(table, "radius")))


def _bead(table: Table, name: str, mix: Mix, section_mm2: float) -> Bead:
    length_mm = dimension_mm(table, "length")
    return Bead(name, mix, section_mm2 * length_mm * _count(table) / 1000)


def _mix(table: Table) -> Mix:
    mixes = _loaded(load_filler, table, "filler", "fillers")
    only = mixes[0].name if len(mixes) == 1 else None
    name = table.choice("mix", tuple(mix.name for mix in mixes), default=only)
    return next(mix for mix in mixes if mix.name == name)


def _count(table: Table) -> int:
    return int(table.number("count", 1, 1000, default=1, whole=True))


def told(layup: Layup) -> list[str]:
    """What a layup has, a line a step, for a person."""
    plies, steps = len(layup.plies), len(layup.steps)
    said = [f"{layup.name}: {plies} {_plies(plies)} in {steps} step{'s' if steps > 1 else ''}"]
    for step in layup.steps:
        if isinstance(step, Plies):
            numbers = spoken([ply.number for ply in step.plies])
            area = sum(ply.area_m2 for ply in step.plies)
            fabrics = ", ".join(dict.fromkeys(ply.fabric.name for ply in step.plies))
            which = f"{_plies(len(step.plies))} {numbers}"
            said.append(f"  {step.name}: {which}, {area:.3g} m2 of {fabrics}")
        elif isinstance(step, Coat):
            said.append(f"  {step.name}: {step.area_m2:.3g} m2, {step.surface.name}")
        else:
            said.append(f"  {step.name}: {step.volume_ml:.3g} mL of {step.mix.name}")
    return said


def _plies(count: int) -> str:
    return "ply" if count == 1 else "plies"
