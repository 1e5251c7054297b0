"""What a scale can say, and when it said it.

Pure values: any layer may import this file. A dialect makes them from bytes, the
live scale stamps them with the time at which their last byte arrived, and the
pour decides on nothing else. A mass is an integer number of micrograms, because
an integer survives every addition, file and comparison unchanged; beside it
stands the scale's own text, which is the evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

#: Micrograms in one of each unit that a scale may show. Exact: the avoirdupois
#: pound is 453.592 37 g by the international yard and pound agreement of 1959,
#: and the ounce is a sixteenth of it; the metric carat is 200 mg.
UG_PER_UNIT: dict[str, Decimal] = {
    "mg": Decimal(1_000),
    "g": Decimal(1_000_000),
    "kg": Decimal(1_000_000_000),
    "lb": Decimal(453_592_370),
    "oz": Decimal("28349523.125"),
    "ct": Decimal(200_000),
}


@dataclass(frozen=True, slots=True)
class Reading:
    """One whole, well-formed weight.

    ``mass_ug`` is what the scale displayed, in micrograms; ``text`` its own figure
    and unit, as sent (``"56.1 g"``); ``division_ug`` one step of its last digit, or of
    what the scale says that it counts by, where that is more.
    ``still`` is the scale's own word that it is not in motion. ``scale_tared`` is
    true when the scale says that it subtracts a tare of its own. ``at_s`` is when
    the last byte arrived, in seconds on the clock that was handed to the scale.
    ``weighing_range`` is the one that the scale says it is in, 1 where it has but one: in
    a higher one it counts by coarser steps, and may go on showing the same digits.

    >>> Reading(mass_ug=56_100_000, text="56.1 g", unit="g", division_ug=100_000, still=True)
    Reading(mass_ug=56100000, text='56.1 g', unit='g', division_ug=100000, still=True, \
scale_tared=False, at_s=0.0, weighing_range=1)
    """

    mass_ug: int
    text: str
    unit: str
    division_ug: int
    still: bool
    scale_tared: bool = False
    at_s: float = 0.0
    weighing_range: int = 1


class FaultKind(StrEnum):
    """Why there is no weight."""

    OVERLOAD = "overload"  # more on the pan than the scale can weigh
    UNDERLOAD = "underload"  # less than it can weigh: the pan is off, or lifted
    SCALE_ERROR = "scale-error"  # the scale reports a zero, tare or other error of its own
    REFUSED = "refused"  # the scale does not know what it was asked
    NONSENSE = "nonsense"  # bytes that are no whole, well-formed frame
    LINK = "link"  # the port failed: unplugged, switched off, gone


@dataclass(frozen=True, slots=True)
class Fault:
    """The scale, or the way to it, reports trouble instead of a weight.

    ``text`` is what came, printable; ``say`` one sentence for a person: what was
    read and what would be accepted. ``at_s`` as in :class:`Reading`.
    """

    kind: FaultKind
    text: str
    say: str
    at_s: float = 0.0


@dataclass(frozen=True, slots=True)
class About:
    """What a scale says of itself. ``capacity_ug`` is ``None`` where it did not say;
    ``divisions_ug`` has the step that it counts by, for each unit that it told of."""

    capacity_ug: int | None
    divisions_ug: tuple[tuple[str, int], ...]
    text: str
    at_s: float = 0.0


Said = Reading | Fault | About
