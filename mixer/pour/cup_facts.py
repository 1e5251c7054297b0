"""What becomes true beside the pour itself: what a jug weighs; that the batch is to be split,
that a share of it is in a cup of its own, that filler went in, that it was scraped into another.

Facts as in :mod:`mixer.pour.facts`. All cups of a batch have its ratio, its lots and its
first contact: what is said here is how much of it is in which cup, and with which filler.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar, Literal

Weights = Literal["scale", "typed"]


@dataclass(frozen=True, slots=True)
class Weighing:
    """The jug of this component is to be put on the scale, to be weighed itself; ``None``: it
    is not, after all."""

    kind: ClassVar[str] = "weighing"
    at_ms: int
    component: int | None


@dataclass(frozen=True, slots=True)
class JugWeight:
    """What the jug of this component weighs, with what is in it; ``after``: once it was poured
    from. ``left_ug`` is then what left it, and ``due_ug`` what of it is in the cup; ``None``
    where that cannot be told."""

    kind: ClassVar[str] = "jug-weight"
    at_ms: int
    component: int
    mass_ug: int
    weights: Weights
    text: str = ""
    after: bool = False
    left_ug: int | None = None
    due_ug: int | None = None


@dataclass(frozen=True, slots=True)
class Splitting:
    """The builder said that this batch is to be split once it is stirred."""

    kind: ClassVar[str] = "splitting"
    at_ms: int


@dataclass(frozen=True, slots=True)
class Shared:
    """So much of what was in cup ``of`` is in this cup now. ``mass_ug`` is ``None`` where
    nobody weighed it, else ``weights`` says who did: the scale, from ``tare_ug`` to
    ``gross_ug`` with its own text, or a hand that typed it. ``layup`` is what it went into,
    where that is not the batch's."""

    kind: ClassVar[str] = "shared"
    at_ms: int
    cup: int
    of: int
    mass_ug: int | None = None
    weights: Weights | None = None
    tare_ug: int | None = None
    gross_ug: int | None = None
    text: str = ""
    layup: str | None = None


@dataclass(frozen=True, slots=True)
class Filled:
    """So much of this filler went into the cup, after the stir. ``start_ug`` is the amount that
    was advised to begin with; ``about`` what is known of the filler, and where from; the rest
    as in :class:`Shared`."""

    kind: ClassVar[str] = "filled"
    at_ms: int
    cup: int
    filler: str
    mass_ug: int | None = None
    weights: Weights | None = None
    start_ug: int | None = None
    base_ug: int | None = None
    gross_ug: int | None = None
    text: str = ""
    about: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Moved:
    """All that is in the cup was scraped into a second, clean one, which has its number now;
    ``None``: the batch's own, which has none yet."""

    kind: ClassVar[str] = "moved"
    at_ms: int
    cup: int | None = None


@dataclass(frozen=True, slots=True)
class Divided:
    """Nothing more is shared at the scale: ``go``, as the builder said, or ``interrupted``."""

    kind: ClassVar[str] = "divided"
    at_ms: int
    how: str
