"""A layup: its steps in the order of the work, and its plies with their numbers.

Plies are numbered from 1 on through all steps. This file must never lose a ply, nor take a
number that none has.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from itertools import groupby

from mixer.plan.cloth import Fabric, Mix, Surface

_RUN = re.compile(r"\s*([0-9]{1,4})\s*(?:-\s*([0-9]{1,4})\s*)?")


class NoPly(ValueError):
    """A ply was asked for that is not there; the message is one sentence for a person."""


@dataclass(frozen=True, slots=True)
class Ply:
    """One ply. ``entry`` counts the lines of the schedule, of which one may be many plies;
    ``orientation`` is as written, or empty."""

    number: int
    entry: int
    fabric: Fabric
    area_m2: float
    orientation: str = ""


@dataclass(frozen=True, slots=True)
class Plies:
    """Cloth upon cloth. ``together`` stands before what each fabric says of it. ``of`` is the
    whole step, where these are only some of its plies."""

    name: str
    plies: tuple[Ply, ...]
    together: int | None = None
    of: tuple[Ply, ...] = ()

    def groups(self) -> Iterator[tuple[Ply, ...]]:
        """The plies that are wetted at once: neighbours of one fabric, so many at a time; where
        the step itself says how many, whatever they are of. Who asks for some of them gets what
        is asked for of each group: the others are wetted with theirs."""
        asked = {ply.number for ply in self.plies}
        for group in self._whole_groups():
            if kept := tuple(ply for ply in group if ply.number in asked):
                yield kept

    def _whole_groups(self) -> Iterator[tuple[Ply, ...]]:
        every = self.of or self.plies
        if self.together:
            for first in range(0, len(every), self.together):
                yield every[first : first + self.together]
            return
        for fabric, run in groupby(every, key=lambda ply: ply.fabric):
            plies = tuple(run)
            for first in range(0, len(plies), fabric.together):
                yield plies[first : first + fabric.together]


@dataclass(frozen=True, slots=True)
class Coat:
    """What is wetted without being cloth of the laminate: slurry on a core, peel ply.
    ``mix`` is what the epoxy is made into first, where that is said."""

    name: str
    surface: Surface
    area_m2: float
    mix: Mix | None = None


@dataclass(frozen=True, slots=True)
class Bead:
    """Thickened epoxy by its volume: flox in a joint, a fillet."""

    name: str
    mix: Mix
    volume_ml: float


Step = Plies | Coat | Bead


@dataclass(frozen=True, slots=True)
class Layup:
    """``method``, ``resin`` and ``cup`` are names of profiles; the last two may be unknown."""

    name: str
    steps: tuple[Step, ...]
    method: str
    resin: str | None = None
    cup: str | None = None

    @property
    def plies(self) -> tuple[Ply, ...]:
        """Of all steps, in their order."""
        return tuple(p for step in self.steps if isinstance(step, Plies) for p in step.plies)

    def only(self, numbers: Collection[int]) -> Layup:
        """These plies and nothing else: no slurry, no joint. Raises :class:`NoPly`."""
        wanted, there = set(numbers), {ply.number for ply in self.plies}
        if missing := sorted(wanted - there):
            accepted = f"1 to {max(there)}" if there else "none, as it has no plies"
            raise NoPly(f"ply {missing[0]} is not in {self.name}; accepted: {accepted}")
        kept = []
        for step in self.steps:
            if isinstance(step, Plies):
                plies = tuple(ply for ply in step.plies if ply.number in wanted)
                if plies:
                    kept.append(replace(step, plies=plies, of=step.of or step.plies))
        return replace(self, steps=tuple(kept))


def spoken(numbers: Collection[int], between: str = ", ") -> str:
    """Their numbers as a person writes them.

    >>> spoken([1, 2, 3, 4, 7]), spoken([5]), spoken([1, 3], ",")
    ('1-4, 7', '5', '1,3')
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return between.join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


def numbered(text: str) -> tuple[int, ...]:
    """The way back: rising, each once. ValueError where it is no list of numbers from 1 to
    9999 and of rising ranges of them.

    >>> numbered("1-4, 7"), numbered("2,1-2")
    ((1, 2, 3, 4, 7), (1, 2))
    """
    found: set[int] = set()
    for part in text.split(","):
        run = _RUN.fullmatch(part)
        first, last = (int(run[1]), int(run[2] or run[1])) if run else (0, 0)
        if not 1 <= first <= last:
            raise ValueError(f"{text[:40]!r} is no list of numbers such as 1-4 or 2, 5-7")
        found.update(range(first, last + 1))
    return tuple(sorted(found))
