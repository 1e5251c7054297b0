"""All that can happen to a pour, as data. Times are seconds of the age clock."""

from __future__ import annotations

from dataclasses import dataclass

from devices.readings import Fault, Reading


@dataclass(frozen=True, slots=True)
class Weighed:
    """The scale said a weight (its time is in the reading)."""

    reading: Reading

    @property
    def at_s(self) -> float:
        return self.reading.at_s


@dataclass(frozen=True, slots=True)
class Failed:
    """The scale, or the way to it, reported trouble instead of a weight."""

    fault: Fault

    @property
    def at_s(self) -> float:
        return self.fault.at_s


@dataclass(frozen=True, slots=True)
class Tick:
    """Time went by. ``free_cup`` is the number that the next live cup would get."""

    at_s: float
    free_cup: int = 1


@dataclass(frozen=True, slots=True)
class Key:
    """The builder said ``go``, ``hold``, ``use``, ``part``, ``drop``, ``note`` (with a text)
    or ``jug`` (with the tag that was read): by key, pedal, scanned card or typed word. At a
    scale with no cable also ``shows``, with the figure that it shows, which may come along
    with ``go`` too. Also ``split``, ``moved``, ``filler`` with its name and ``weigh`` with a
    component's: ``mass_ug`` is what was typed of a share, a filler or a jug, ``cup`` the cup
    that was named."""

    at_s: float
    word: str
    text: str = ""
    mass_ug: int | None = None
    cup: int | None = None


@dataclass(frozen=True, slots=True)
class Cut:
    """The program is being ended in mid-pour; ``how`` is ``interrupted`` or ``scale-lost``."""

    at_s: float
    how: str


Input = Weighed | Failed | Tick | Key | Cut
