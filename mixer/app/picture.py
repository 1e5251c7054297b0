"""The newest immutable picture of the bench: all that a face may know.

The bench thread makes a new one whenever something changed, and the window, the
text console and the JSON lines each draw the same one. Nothing in it is ahead of
the disk: a fact stands in the journal before it shows here. Masses are integer
micrograms; faces turn them into grams, no earlier.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypedDict

from mixer.app.request import Request


@dataclass(frozen=True, slots=True)
class ScaleView:
    """The scale as a person sees it.

    ``health`` is ``"fresh"``, ``"stale"`` or ``"lost"``; ``text`` its own last figure
    (``"56.1 g"``), empty before the first; ``say`` what is wrong with it, or empty.
    """

    health: str = "lost"
    text: str = ""
    say: str = ""


@dataclass(frozen=True, slots=True)
class Display:
    """The display of a scale with no cable: running totals, as they stand on it.

    ``shows`` is what the builder said of it and has not gone on from, as it was said.
    ``wanted``: a figure may be said now; it is to be ``target_ug`` and within ``low_ug`` and
    ``high_ug``, where there are limits; ``as_asked``: go alone says that it is there. ``call``
    is another number for each thing that is asked for.
    """

    shows: str = ""
    wanted: bool = False
    target_ug: int | None = None
    low_ug: int | None = None
    high_ug: int | None = None
    as_asked: bool = False
    call: int = 0


@dataclass(frozen=True, slots=True)
class Row:
    """One component of the recipe, in pouring order."""

    name: str
    role: str  # "resin", "hardener" or "additive"
    parts: float
    net_ug: int | None  # in the cup, live for the one being poured; None: not begun
    target_ug: int | None  # None: not known yet
    settled: bool  # its weight has been taken


@dataclass(frozen=True, slots=True)
class Cue:
    """One thing that has become true of a live cup, and what is said of it."""

    mark: str
    say: str


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a live cup stands, see :mod:`mixer.app.life.cup_life`. Times in s from first contact of
    hardener, None where nothing was foretold; ``low_s`` to ``high_s`` is the range. ``cues`` are
    all that have come, in their order in time; ``mark`` the gravest of them, or empty; ``say``
    what is said of the cup now; ``is_old``: all that was foretold of it is over; ``thick_s`` is
    when it was said to thicken, and what was foretold is kept beside it."""

    working_s: float | None = None
    low_s: float | None = None
    high_s: float | None = None
    cues: tuple[Cue, ...] = ()
    mark: str = ""
    say: str = ""
    is_old: bool = False
    thick_s: float | None = None

    def at_last(self, foretold_s: float | None) -> float | None:
        """A time that was foretold of its working time: that ended once it thickened."""
        if foretold_s is None or self.thick_s is None:
            return foretold_s
        return min(foretold_s, self.thick_s)


@dataclass(frozen=True, slots=True)
class LiveCup:
    """A cup whose clock runs. ``age_s`` counts from first contact of hardener. ``total_ug`` is
    the most of the mix that can be in it, ``at_most`` where nobody weighed it, ``alone`` where
    its batch's other cups have another clock; ``age_at_least``: it may be older."""

    cup: int
    batch: int
    resin_system: str
    total_ug: int
    age_s: float
    verdict: str
    pot_life: str  # the label's own words: "25 min for 100 g at 25 degC", or empty
    stands: Standing = Standing()
    filler: str = ""
    at_most: bool = False
    alone: bool = False
    age_at_least: bool = False

    @property
    def clock(self) -> tuple[int, int]:
        """Which cups are spoken of together: those of a batch, but for each with its own."""
        return self.batch, self.cup if self.alone else 0


@dataclass(frozen=True, slots=True)
class Share:
    """What is in one of several cups of a batch: the mix, and each filler with its mass; ``None``
    where it was not weighed."""

    cup: int
    mass_ug: int | None
    fillers: tuple[tuple[str, int | None], ...] = ()


class OfCups(TypedDict):
    """What a picture has of the cups that are live, as :class:`Picture` has it."""

    say: str
    live_cups: tuple[LiveCup, ...]
    cup_rings: int
    lasts: str
    curing: tuple[str, ...]
    may_sleep: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """One moment of the bench. Moments at which the same is to be seen are equal.

    ``serial`` grows with every change. ``stage`` is ``"ready"`` (no batch is on),
    ``cup``, ``pour``, ``stir``, ``split``, ``live`` or ``ended``. ``low_ug`` and ``high_ug`` are
    the acceptance limits of the component being poured. ``remaining_s`` is what is left
    of a wait that the program counts down (the drips, the stir), else ``None``. ``rings``
    grows with each thing that is to be heard too. ``tags`` are those of the jugs, in small
    letters. ``asks_cloth``: there is no batch yet, and what its dry cloth weighs may be said.
    """

    serial: int = field(default=0, compare=False)
    t_s: float = field(default=0.0, compare=False)
    stage: str = "ready"
    held: str | None = None
    component: str | None = None
    net_ug: int | None = None
    total_ug: int | None = None
    target_ug: int | None = None
    low_ug: int | None = None
    high_ug: int | None = None
    cue: str = "place"
    say: str = ""
    remaining_s: float | None = None
    contact_age_s: float | None = None  # since hardener first touched this batch's resin
    contact_at_least: bool = False  # that is what is proven, and it may be older

    batch: int | None = None
    cup: int | None = None
    ratio_target: float | None = None
    ratio_actual: float | None = None
    verdict: str | None = None
    shares: tuple[Share, ...] = ()  # the cups of a batch that was split, its own first
    # How it ended: "live", "dropped", "interrupted", "scale-lost". Or why it came to no such
    # end: "refused", "failed" (the program itself), "unrecorded" (the record was not told).
    outcome: str | None = None

    resin_system: str = ""
    resin_source: str = ""
    size_ug: int | None = None
    asks_cloth: bool = False
    division_ug: int | None = None
    rows: tuple[Row, ...] = ()
    tags: tuple[str, ...] = ()
    rings: int = 0
    cup_rings: int = 0  # the same for what has become true of a live cup
    lasts: str = ""  # how long what is asked for should last, before it is poured
    scale: ScaleView = ScaleView()
    display: Display | None = None  # where the weights are typed in
    live_cups: tuple[LiveCup, ...] = ()
    curing: tuple[str, ...] = ()  # a line for each laminate of late, see mixer.app.life.curing
    simulated: bool = False
    may_sleep: bool = False  # the system was asked to keep the computer awake, and will not
    offer: Request | None = None  # at stage "ready": the order of a batch that was cut off

    @property
    def running(self) -> str:
        """The live cups of which something may come yet, by name; empty where there are none.

        >>> Picture().running
        ''
        """
        *first, last = sorted(c.cup for c in self.live_cups if not c.stands.is_old) or [0]
        many = f"cups {', '.join(map(str, first))} and {last}" if first else f"cup {last}"
        return many if last else ""
