"""What a label says, a cure that agrees with it, and the course of any cup by that cure.

A label gives a time for a mass at a temperature, and means by its end a gel, a viscosity
or "usable"; :mod:`mixer.science.fitting` finds the cure. This file must never fill in what
no label says without a doubt of it (:data:`DOUBTS`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.science.cure import Cure
from mixer.science.heat import CLOSE, Air, Body, Course, lumped, room
from mixer.science.shapes import Shape

#: J for each mole of epoxide that takes an amine hydrogen; of the usual order (memory).
HEAT_J_MOL = 100e3

#: J/g of mixed epoxy, where no equivalent weight tells: that of EEW 190 with 36 phr.
HEAT_J_G = 380.0

#: What was left of a cup, each from its second on: so many g, in a cup as in :func:`follow`.
Left = Sequence[tuple[float, float, "Shape | float | None"]]

LONGEST_S = 7 * 86400.0


class Contradiction(ValueError):
    """A label that nothing can be fitted to; the message says why, in words. ``cups`` were
    followed to find that out."""

    def __init__(self, why: str, cups: int = 0) -> None:
        super().__init__(why)
        self.cups = cups


@dataclass(frozen=True, slots=True)
class Point:
    """One pot life: of this mass in g, epoxy and room at this temperature."""

    mass_g: float
    temp_c: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Label:
    """What a data sheet tells. ``ends`` is ``gel``, ``viscosity`` or ``usable``; ``peak_c``
    the hottest of the first point's cup, where it is told. ``gels``: by its equivalent weights so
    much of its epoxide can react as a gel takes."""

    points: tuple[Point, ...]
    ends: str
    density_g_ml: float
    peak_c: float | None = None
    heat_j_g: float = HEAT_J_G
    gels: bool = True

    def working_ends(self) -> str:
        """What the working time ends with: the label's own sign, or before its gel."""
        return "usable" if self.ends == "gel" else self.ends


@dataclass(frozen=True, slots=True)
class Guess:
    """What no label tells. ``exchange`` multiplies what passes from any cup to the room,
    ``label_exchange`` that of the label's cup alone, ``heat`` the heat of reaction."""

    energy_j_mol: float = 52e3
    start_share: float = 0.2
    exchange: float = 1.0
    label_exchange: float = 1.0
    heat: float = 1.0
    conducts: float = 1.0

    def cure(self) -> Cure:
        """Unscaled; ``start_share`` is k1/k2."""
        k1 = self.start_share * 1e-4
        return Cure(k1, 1e-4, self.energy_j_mol, self.energy_j_mol)


#: Each by itself, as far as it may well be off (our choice; energies as in the sources
#: of :class:`Cure`, the rest without a source).
DOUBTS = (
    (Guess(energy_j_mol=44e3), Guess(energy_j_mol=60e3)),
    (Guess(start_share=0.05), Guess(start_share=1.0)),
    (Guess(exchange=0.67), Guess(exchange=1.5)),
    (Guess(label_exchange=0.75), Guess(label_exchange=1.33)),
    (Guess(heat=0.8), Guess(heat=1.2)),
)


@dataclass(frozen=True, slots=True)
class System:
    """A cure that agrees with a label, and its heat; ``cups`` were followed to find it.
    ``moves``: how many times as far its energy moves with one of the label's two times as it
    would if neither cup heated itself; 0 where the energy is none of theirs."""

    cure: Cure
    heat_j_g: float
    guess: Guess
    cups: int = 0
    moves: float = 0.0


def follow(
    system: System,
    label: Label,
    mass_g: float,
    air_c: Air,
    start_c: float,
    cup: Shape | float | None = None,
    until_s: float = LONGEST_S,
    *,
    left: Left = (),
    leave_then: bool = False,
    tolerance: float = CLOSE,
    richer: float = 1.0,
) -> Course:
    """The course of a cup: a shape, millilitres, or None for one that this mass fills as a
    label's does; ``left`` is what of it stood alone later. ``reached_s`` has the end of the
    working time, then the gel; with ``leave_then`` it is followed no further than the first
    of these. ``richer``: it lacks what does not react, so that each gram has so many times the
    heat of the label's.
    """
    shape = _shape(cup)

    def body(of: Shape, of_g: float) -> Body:
        guess, heat_j_g = system.guess, system.heat_j_g * richer
        return of.body(of_g, label.density_g_ml, heat_j_g, guess.exchange, guess.conducts)

    ends = [system.cure.end_conversion(label.working_ends()), system.cure.gel]
    return lumped(
        system.cure.rate_per_s,
        body(shape, mass_g),
        air_c,
        start_c if shape.share == 1 else shape.mixed_c(start_c, room(air_c)(0)),
        until_s,
        ends[:1] if leave_then else ends,
        then=[(from_s, body(_shape(its), its_g)) for from_s, its_g, its in left],
        leave_then=leave_then,
        leave_cooled=True,
        tolerance=tolerance,
    )


def _shape(cup: Shape | float | None) -> Shape:
    return cup if isinstance(cup, Shape) else Shape(cup_ml=cup)
