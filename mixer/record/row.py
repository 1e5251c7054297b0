"""One batch, as its facts tell of it (:mod:`mixer.record.folding`).

Pure. Facts are read for many years, by programs older and newer than the one that wrote
them: an unknown kind, an unknown key and a missing key are passed over, and no fact ever
ends the reading. Nothing that a fact decided is computed again here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from mixer.record import cups
from mixer.record.corrections import Correction
from mixer.record.later import Later

Role = Literal["resin", "hardener"]


@dataclass(frozen=True, slots=True)
class Moment:
    """When a fact became true: UTC, and milliseconds since the boot of this name."""

    utc: str
    at_ms: int
    boot: str


#: What a batch that was typed in counts as: one that was withdrawn was never mixed, or stands
#: there twice.
ENTRY = ("entered", "withdrawn")


@dataclass(frozen=True, slots=True)
class BatchRow:
    """All that is known of one batch. Masses in micrograms; None = not known (yet).

    ``opened`` is the data of its first fact, as stored, but for the resin of a late entry, which
    is as it was corrected. ``amounts_ug`` has one figure
    for each component that was accepted, by its place in the recipe; ``parted_ug`` is
    what was taken out again of the stirred mix; ``jugs`` the component whose tag was read last
    for each that was asked for, ``jug_weights`` what left the jug of each that was
    weighed before and after, and what of it was in the cup. ``contact`` is when hardener first met
    resin, where it is known: the cup's clock runs from there.
    ``foretold`` is the data of the newest fact that foretold how long its cup lives,
    ``shares_foretold`` the same of each of its cups that what stood together no longer tells of,
    ``said_air`` the air in degC each time it was said, None where that was taken back, and
    ``measured`` those that count; ``thickened`` how old in s each of its
    cups was when the builder first said that it thickens, by its number, and ``thickens_by`` by
    which time of the model that stood there then, in s.
    ``told`` has what was corrected of ``opened``; ``entered_at`` is set where the batch
    was typed in, and ``mixed_utc`` then says when it was mixed. ``later`` is what was seen
    of its laminate; ``lacking``: of its facts some are missing, or may be, which only whoever
    looks at the whole record can tell.
    """

    batch: int
    opened: dict[str, Any] = field(default_factory=dict)
    opened_at: Moment | None = None
    tare_ug: int | None = None
    amounts_ug: dict[int, int] = field(default_factory=dict)
    parted_ug: int | None = None
    jugs: dict[int, int] = field(default_factory=dict)
    jug_weights: dict[int, tuple[int, int]] = field(default_factory=dict)
    contact: Moment | None = None
    cup: int | None = None
    live_at: Moment | None = None
    ended_how: str | None = None
    closed_at: Moment | None = None
    closed_how: str | None = None
    left_ug: int | None = None
    verdict: str | None = None
    ratio_target: float | None = None
    ratio_actual: float | None = None
    unproven_because: str | None = None
    doubts: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    entered_at: Moment | None = None
    mixed_utc: str | None = None
    foretold: dict[str, Any] = field(default_factory=dict)
    shares_foretold: dict[int, dict[str, Any]] = field(default_factory=dict)
    said_air: tuple[tuple[Moment, float | None], ...] = ()
    thickened: dict[int, float] = field(default_factory=dict)
    thickens_by: dict[int, float] = field(default_factory=dict)
    told: dict[str, Any] = field(default_factory=dict)
    corrections: tuple[Correction, ...] = ()
    later: tuple[Later, ...] = ()
    cups_told: cups.Told = field(default_factory=cups.Told)
    lacking: bool = False

    @property
    def cups(self) -> tuple[cups.Cup, ...]:
        """Its cups, its own first; none where it never was live."""
        return cups.cups_of(self)

    @property
    def measured(self) -> tuple[tuple[Moment, float], ...]:
        """When the air was said, and how warm it was in degC."""
        return tuple((when, air_c) for when, air_c in self.said_air if air_c is not None)

    @property
    def resin_system(self) -> str | None:
        """The name of its resin."""
        return text(self.opened.get("resin_system"))

    def about(self, name: str) -> Any:
        """What is known of it now: as corrected, else as it was said at first."""
        return self.told.get(name, self.opened.get(name))

    @property
    def components(self) -> list[dict[str, Any]]:
        """The components of the recipe, in its order."""
        recipe = self.opened.get("recipe")
        listed = recipe.get("components") if isinstance(recipe, dict) else None
        return [c for c in listed if isinstance(c, dict)] if isinstance(listed, list) else []

    @property
    def kits(self) -> list[dict[str, Any]]:
        """The cloth that it was sized by: ``cloth_ug`` of each kit, with ``layup``, ``plies``,
        the ``method`` of wetting out, the ``part`` of it that the batch was for (older ones do
        not say it), and whether it was ``weighed``."""
        kept = self.opened.get("kits")
        found = [kit for kit in kept if isinstance(kit, dict)] if isinstance(kept, list) else []
        return [kit for kit in found if (whole(kit.get("cloth_ug")) or 0) > 0]

    @property
    def outcome(self) -> str:
        """``open`` while it is made, ``live``, ``closed``; or how it ended without a cup;
        ``entered`` where it was typed in, ``withdrawn`` where that was taken back."""
        if self.live_at is None and self.ended_how is not None:
            return self.ended_how
        if self.closed_at is not None:
            return "closed"
        return "open" if self.live_at is None else "live"

    @property
    def off(self) -> dict[str, float]:
        """By how much of its due a component was too much, or below zero too little, by its name
        and by the masses that count; as ``hardener`` all hardener, which goes first, then what
        is most too much. Empty where none was more than its recipe allows, or it is not known."""
        if self.sum_ug("hardener") is None:
            return {}
        recipe = self.opened["recipe"]
        every = [i for i, one in enumerate(self.components) if one.get("role") == "hardener"]
        found = {}
        for index, one in enumerate(self.components):
            own = one.get("tolerance")
            if index in every and own is None:
                own = recipe.get("split_tolerance")
            if one.get("role") == "additive" or (index in every and len(every) > 1):
                found[str(one.get("name"))] = self._off([index], own)
        found["hardener"] = self._off(every, recipe.get("ratio_tolerance"))
        off = [(name, by) for name, by in found.items() if by is not None]
        return dict(sorted(off, key=lambda one: (one[0] != "hardener", -one[1])))

    def _off(self, which: list[int], allowed: Any) -> float | None:
        """The same of so many components together; where hardener is in the cup, none is of what
        was not accepted."""
        parts: list[Any] = [one.get("parts") for one in self.components]
        own_ug = sum(self.amounts_ug.get(index, 0) for index in which)
        try:
            target = round(100 * sum(parts[i] for i in which) / parts[0], 9)  # as at the pour
            off: float = 100 * own_ug / self.sum_ug("resin") / target - 1  # type: ignore[operator]
            far = abs(off) > float(allowed) + 1e-9  # 3 % as floats is not more than 3 %
        except (LookupError, TypeError, ValueError, ArithmeticError):
            return None
        return off if far else None

    @property
    def richer(self) -> float:
        """How many times as much of what reacts is in each gram as by its recipe: more than 1
        where an additive is missing, which is taken for one that does not."""
        due = 1 - self._additives(self._parts)
        return max(1.0, (1 - self._additives(self.amounts_ug)) / due) if due > 0 else 1.0

    @property
    def bare(self) -> float:
        """Which part of it all is in the cup before the additives that follow its hardener are."""
        first = min((i for i, role in self._roles if role == "hardener"), default=math.inf)
        return 1 - self._additives(self._parts, behind=first)

    @property
    def _roles(self) -> list[tuple[int, Any]]:
        return [(index, one.get("role")) for index, one in enumerate(self.components)]

    @property
    def _parts(self) -> dict[int, float]:
        """Of each component that has a figure which a recipe may have."""
        every = [(index, one.get("parts")) for index, one in enumerate(self.components)]
        return {i: p for i, p in every if isinstance(p, int | float) and 0 < p < 1e9}

    def _additives(self, amounts: Mapping[int, float], behind: float = -1) -> float:
        """Which part of these amounts are additives, or those behind this component."""
        mine = [amounts.get(i, 0) for i, role in self._roles if role == "additive" and i > behind]
        most = sum(amounts.values())
        return sum(mine) / most if most > 0 else 0.0

    def sum_ug(self, role: Role | None = None) -> int | None:
        """What is in the cup of this role (of all, without one); None if nothing is known."""
        components = self.components
        found = [
            mass_ug
            for index, mass_ug in self.amounts_ug.items()
            if role is None or (index < len(components) and components[index].get("role") == role)
        ]
        return sum(found) if found else None


def part_of(kit: dict[str, Any]) -> float | None:
    """The part of a kit that its batch was for; None where that is not said.

    >>> part_of({"part": 0.5}), part_of({"part": 7}), part_of({})
    (0.5, None, None)
    """
    part = kit.get("part")
    return part if isinstance(part, int | float) and 0 < part <= 1 else None


def whole(value: object) -> int | None:
    """A whole number; None where something else was told."""
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def text(value: object) -> str | None:
    """A text; None where something else was told."""
    return value if isinstance(value, str) else None
