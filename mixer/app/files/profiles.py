"""Resin, scale and cup profiles: data in TOML become plain, checked numbers.

A profile decides what goes into an aircraft, so a slip in it must not pass: every
key that is not known is refused, every number has its unit and its range, and what
is wrong is said in one sentence with the file, the key, what was read and what is
accepted. This file must never fill in a ratio, a density or a pot life of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from mixer import units
from mixer.app.files.cure_times import CureTimes, read_cure
from mixer.app.files.folders import Folders, config_folder, find, names, profile_folders
from mixer.app.files.jug_tag import jug_tag
from mixer.app.files.pot_life import PotLife, read_pot_life
from mixer.app.files.toml_table import ProfileError, Table, read_toml
from mixer.pour.recipe import Component, Recipe, Role

__all__ = [
    "CupProfile",
    "ProfileError",
    "ResinProfile",
    "ScaleProfile",
    "config_folder",
    "kept_resin",
    "load_cup",
    "load_resin",
    "load_scale",
    "names",
    "profile_folders",
]

#: Column names of the record that a component's ``<name>_g`` must not become.
_TAKEN = ("size", "tare", "left", "total", "net")

#: Least and most of an equivalent weight, g/mol: wide, to keep only slips out.
EEW = (50, 10_000)
AHEW = (5, 5_000)


@dataclass(frozen=True, slots=True)
class ResinProfile:
    """One resin system. ``equivalents`` are the EEW or AHEW of each component in g/mol,
    where the profile has it; ``raw`` is the whole of it, for the journal."""

    name: str
    source: str
    about: str
    path: Path
    components: tuple[Component, ...]
    ratio_tolerance: float
    split_tolerance: float
    stir_s: float
    pot_life: PotLife | None
    cure: CureTimes | None
    room_coldest_c: float
    room_dampest: float
    equivalents: tuple[float | None, ...]
    raw: dict[str, Any] = field(hash=False)

    def recipe(self) -> Recipe:
        """What is to be poured, in its order."""
        return Recipe(self.components, self.ratio_tolerance, self.split_tolerance)

    @property
    def density_g_per_ml(self) -> float:
        """Of all components together, volumes added (mixing shrinks it a little)."""
        mass = sum(c.parts for c in self.components)
        # Every component of a profile has a density; see _component.
        return mass / sum(c.parts / (c.density_g_per_ml or 1.0) for c in self.components)


@dataclass(frozen=True, slots=True)
class ScaleProfile:
    """How a scale is spoken to, what may be put on it, and how true it is.

    ``dialect`` is ``none`` for one with no cable, whose display has steps of ``division_ug``
    (``None`` where the profile does not say; a scale that is read says it itself).
    ``repeatability_ug`` is the standard deviation of one settled weight, ``linearity_ug``
    and ``drift_ug`` are half-widths; ``None`` where the profile does not say.
    """

    name: str
    source: str
    about: str
    path: Path
    dialect: str
    ask: Literal["W", "R"]  # P waits until it is still: nothing could be followed by it
    baud: int
    bytesize: int
    parity: str
    stopbits: float
    capacity_ug: int
    repeatability_ug: int | None
    linearity_ug: int | None
    drift_ug: int
    division_ug: int | None
    raw: dict[str, Any] = field(hash=False)


@dataclass(frozen=True, slots=True)
class CupProfile:
    """A kind of cup: how much it may hold, what a new one weighs, what to mind."""

    name: str
    source: str
    about: str
    path: Path
    volume_ml: float
    fill: float
    mass_ug: int
    material: str
    caution: str
    raw: dict[str, Any] = field(hash=False)

    def most_ug(self, density_g_per_ml: float) -> int:
        """The most epoxy of this density that leaves room to stir, in micrograms."""
        return int(self.volume_ml * self.fill * density_g_per_ml * 1e6)


def load_resin(name_or_path: str, folders: Folders = None) -> ResinProfile:
    """The resin of this name, or in this file. Raises :class:`ProfileError`."""
    path = find("resins", name_or_path, folders)
    return read_resin(read_toml(path), path)


def kept_resin(raw: dict[str, Any], where: str) -> ResinProfile:
    """The resin of a batch, from what its first fact kept of its profile; ``where`` opens
    the sentence of a :class:`ProfileError`."""
    name, rest = raw.get("name"), {key: value for key, value in raw.items() if key != "name"}
    path = Path(f"{name if isinstance(name, str) else 'unknown'}.toml")
    return read_resin(Table(where, "", rest), path)


def read_resin(top: Table, path: Path) -> ResinProfile:
    """The resin in this table, by the name of its file. Raises :class:`ProfileError`."""
    read = [_component(table, path.stem) for table in top.tables("component")]
    components = tuple(component for component, _ in read)
    _check_components(top, components)
    band = top.table("band")
    ratio_tolerance = band.tolerance("ratio")
    split_tolerance = band.tolerance("split", default="15 %")
    band.close()
    stir = top.table("stir", optional=True)
    stir_s = stir.quantity("time", units.duration_s, 1, 3600, "1 s to 1 h", default="120 s")
    stir.close()
    pot_life = read_pot_life(top.table("pot_life")) if top.has("pot_life") else None
    cure = read_cure(top.table("cure")) if top.has("cure") else None
    # Without a data sheet: 18 degC and 65 % are common practice, no source.
    room = top.table("room", optional=True)
    coldest_c = room.quantity(
        "coldest", units.temperature_c, 0, 40, "0 to 40 degC", default="18 degC"
    )
    dampest = room.quantity("dampest", units.fraction, 0.1, 1, "10 % to 100 %", default="65 %")
    room.close()
    source, about = _source_and_about(top)
    top.close()
    return ResinProfile(
        name=path.stem,
        source=source,
        about=about,
        path=path,
        components=components,
        ratio_tolerance=ratio_tolerance,
        split_tolerance=split_tolerance,
        stir_s=stir_s,
        pot_life=pot_life,
        cure=cure,
        room_coldest_c=coldest_c,
        room_dampest=dampest,
        equivalents=tuple(equivalent for _, equivalent in read),
        raw={"name": path.stem, **top.resolved},
    )


def load_scale(name_or_path: str, folders: Folders = None) -> ScaleProfile:
    """The scale of this name, or in this file. Raises :class:`ProfileError`."""
    path = find("scales", name_or_path, folders)
    top = read_toml(path)
    source, about = _source_and_about(top)
    profile = ScaleProfile(
        name=path.stem,
        source=source,
        about=about,
        path=path,
        dialect=top.choice("dialect", ("sma", "none")),
        ask=top.choice("ask", ("W", "R"), default="W"),
        baud=int(top.number("baud", 300, 1_000_000, default=9600, whole=True)),
        bytesize=top.choice("bytesize", (7, 8), default=8),
        parity=top.choice("parity", ("N", "E", "O"), default="N"),
        stopbits=top.choice("stopbits", (1, 1.5, 2), default=1),
        capacity_ug=int(top.quantity("capacity", units.mass_ug, 1e6, 1e12, "1 g to 1000 kg")),
        repeatability_ug=_error_ug(top, "repeatability"),
        linearity_ug=_error_ug(top, "linearity"),
        drift_ug=_error_ug(top, "drift") or 0,
        division_ug=_division_ug(top),
        raw={"name": path.stem, **top.resolved},
    )
    top.close()
    return profile


def load_cup(name_or_path: str, folders: Folders = None) -> CupProfile:
    """The cup of this name, or in this file. Raises :class:`ProfileError`."""
    path = find("cups", name_or_path, folders)
    top = read_toml(path)
    source, about = _source_and_about(top)
    profile = CupProfile(
        name=path.stem,
        source=source,
        about=about,
        path=path,
        volume_ml=top.quantity("volume", units.volume_ml, 1, 1e5, "1 mL to 100 L"),
        # Above nine tenths nobody stirs to the bottom without spilling.
        fill=top.quantity("fill", units.fraction, 0.05, 0.9, "5 % to 90 %"),
        mass_ug=int(top.quantity("mass", units.mass_ug, 1e5, 1e10, "0.1 g to 10 kg")),
        material=top.text("material"),
        caution=top.text("caution", default=""),
        raw={"name": path.stem, **top.resolved},
    )
    top.close()
    return profile


def _source_and_about(top: Table) -> tuple[str, str]:
    return top.text("source"), top.text("about", default="")


def _error_ug(top: Table, key: str) -> int | None:
    """An error that the scale's data sheet tells, if it does."""
    if not top.has(key):
        return None
    return int(top.quantity(key, units.mass_ug, 0, 1e9, "0 g to 1 kg"))


def _division_ug(top: Table) -> int | None:
    if not top.has("division"):
        return None
    return int(top.quantity("division", units.mass_ug, 1e3, 1e8, "0.001 g to 100 g"))


def _component(table: Table, resin: str) -> tuple[Component, float | None]:
    """The component, and its equivalent weight where that is given."""
    name = table.text("name")
    if not 0 < len(name) <= 30 or set(name) - set("abcdefghijklmnopqrstuvwxyz0123456789-"):
        # It heads a column of the record and a line on the screen.
        raise table.wrong("name", name, "up to 30 of the characters a-z, 0-9 and -")
    if name in _TAKEN:
        raise table.wrong("name", name, f"a name other than {', '.join(_TAKEN)}")
    role: Role = table.choice("role", ("resin", "hardener", "additive"))
    own = role == "hardener" and table.has("tolerance")  # else that of the split
    component = Component(
        name=name,
        role=role,
        parts=table.number("parts", 0, 10_000, above=True),
        drip_s=table.quantity("drip_time", units.duration_s, 0, 120, "0 s to 2 min", default="8 s"),
        density_g_per_ml=table.quantity("density", units.density_g_per_ml, 0.5, 3, "0.5 to 3 g/mL"),
        tolerance=table.tolerance("tolerance") if role == "additive" or own else None,
        tag=jug_tag(table, resin, name),
    )
    key, least, most = ("ahew", *AHEW) if role == "hardener" else ("eew", *EEW)
    equivalent = table.number(key, least, most) if table.has(key) else None
    table.close()
    return component, equivalent


def _check_components(top: Table, components: tuple[Component, ...]) -> None:
    roles = [c.role for c in components]
    first, others = roles[:1], roles[1:]
    if len(roles) > 6 or first != ["resin"] or "resin" in others or "hardener" not in others:
        accepted = "the resin first, then one to five others, a hardener among them"
        raise top.wrong("component", ", ".join(roles), accepted)
    own = [c.name for c in components]
    for name in own:
        if own.count(name) > 1:
            raise top.wrong("component name", name, "a name of its own for each component")
    # resin_g and hardener_g are columns of the record: the sums, not one of several.
    sole = roles.index("hardener") if roles.count("hardener") == 1 else None
    if "hardener" in own and own.index("hardener") != sole:
        raise top.wrong("component name", "hardener", "another name: it means the sum of all")
    if sole is not None and components[sole].tolerance is not None:
        accepted = "that of the only hardener as the ratio of [band]"
        raise top.wrong("component tolerance", components[sole].tolerance, accepted)
    tags = [c.tag.lower() for c in components if c.tag is not None]
    for tag in tags:
        if tags.count(tag) > 1:
            raise top.wrong("component tag", tag, "a tag of its own for each component")
    if "resin" in own[1:]:
        raise top.wrong("component name", "resin", "another name for what is no resin")
