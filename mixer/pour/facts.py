"""What becomes true in a pour.

A fact carries what was decided (targets, limits, verdict), so that it is never
computed again: a later program with other rules still folds an old batch into
what it was. ``at_ms`` is the age clock of the bench in milliseconds: a clock that
runs on while the computer sleeps. Masses are integer micrograms; weights on the
scale ("gross") stand beside the scale's own text.

The names of the fields are those in the journal (:mod:`mixer.pour.plain`), and they are
for ever: add fields with a default, never rename or reuse one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

from mixer.pour.cup_facts import (
    Divided,
    Filled,
    JugWeight,
    Moved,
    Shared,
    Splitting,
    Weighing,
)
from mixer.pour.recipe import Terms

Plain = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Opened:
    """A batch was begun under these terms. ``about`` is everything else that the
    record needs to stand alone: names, sources, lots, temperatures, profile, version."""

    kind: ClassVar[str] = "opened"
    at_ms: int
    terms: Terms
    about: Plain = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Tared:
    """The cup stands on the scale and weighs this. ``zero_ug`` is what the empty pan
    showed before (``None``: not seen); unit and the scale's own tare as they were."""

    kind: ClassVar[str] = "tared"
    at_ms: int
    tare_ug: int
    zero_ug: int | None
    division_ug: int
    unit: str
    scale_tared: bool
    text: str


@dataclass(frozen=True, slots=True)
class Called:
    """The builder is asked for this component: target and acceptance limits of its
    *total* in the cup, ``before_ug`` of which is there already. ``base_ug`` is the
    gross from which the new weight is counted. ``late_drips``: until the stream
    begins, what still falls belongs to the component before; ``drips_ms`` is until when its
    jug may drip (0: it had dripped out). ``division_ug`` is the step
    in which the scale showed it (0: in an older record, that of the tare)."""

    kind: ClassVar[str] = "called"
    at_ms: int
    component: int
    base_ug: int
    before_ug: int
    target_ug: int
    low_ug: int
    high_ug: int
    addition: bool
    late_drips: bool
    division_ug: int = 0
    drips_ms: int = 0


@dataclass(frozen=True, slots=True)
class Jug:
    """The tag of this component's jug was read, where the other one's was asked for: the one
    that is called or, of a jug taken up early, the one that is called next. ``gross_ug`` is
    what it weighed then, at rest; ``None``: it was not at rest, or no scale is read."""

    kind: ClassVar[str] = "jug"
    at_ms: int
    component: int
    called: int
    gross_ug: int | None = None


@dataclass(frozen=True, slots=True)
class Begun:
    """The stream of this component was first seen. Of the first hardener: first contact.
    ``unseen_ms``: it may have begun so long before, when the weight could not be seen.
    ``astray_ug``: so much of what is counted to it may be of the one before, whose jug had
    not dripped out."""

    kind: ClassVar[str] = "begun"
    at_ms: int
    component: int
    unseen_ms: int = 0
    astray_ug: int = 0


@dataclass(frozen=True, slots=True)
class Accepted:
    """So much of this component is in the cup, in all; settled at this gross. So much of
    it, ``astray_ug``, may be of the component that was called next. ``division_ug`` as in
    :class:`Called`."""

    kind: ClassVar[str] = "accepted"
    at_ms: int
    component: int
    net_ug: int
    gross_ug: int
    text: str
    astray_ug: int = 0
    division_ug: int = 0


@dataclass(frozen=True, slots=True)
class Lost:
    """The cup weighs less than it was known to: it came from this gross to that one."""

    kind: ClassVar[str] = "lost"
    at_ms: int
    from_ug: int
    gross_ug: int
    text: str


@dataclass(frozen=True, slots=True)
class Gained:
    """The cup came back to the scale with so much more in it, from this gross to that one."""

    kind: ClassVar[str] = "gained"
    at_ms: int
    from_ug: int
    gross_ug: int
    text: str


@dataclass(frozen=True, slots=True)
class Parting:
    """It is over the band, and cup or scale have no room to put it right: it is stirred for
    so long, from when it weighed this gross, so that a part of it can be taken out."""

    kind: ClassVar[str] = "parting"
    at_ms: int
    gross_ug: int
    stir_ms: int


@dataclass(frozen=True, slots=True)
class Parted:
    """A part of the stirred mix was taken out, from this gross to that one; so much of each
    component is left. More may be taken out after it."""

    kind: ClassVar[str] = "parted"
    at_ms: int
    from_ug: int
    gross_ug: int
    amounts_ug: tuple[int, ...]
    text: str


@dataclass(frozen=True, slots=True)
class Held:
    """The pour waits. ``gross_ug`` is the last weight that could be trusted; ``pouring``:
    a stream may have run on."""

    kind: ClassVar[str] = "held"
    at_ms: int
    reason: str
    gross_ug: int | None
    say: str
    pouring: bool = False


@dataclass(frozen=True, slots=True)
class Resumed:
    """The pour goes on. ``how``: ``by-hand``, ``continuous`` (the weight is what it was),
    ``empty-seen`` (the empty pan has shown zero since), ``heavier`` or ``lighter`` (so too,
    but the cup is not what it was), ``tared-anew`` (nothing had been poured: what is there is
    the cup), or ``on-trust`` (neither: the gross is then counted with
    ``shift_ug`` added)."""

    kind: ClassVar[str] = "resumed"
    at_ms: int
    reason: str
    how: str
    shift_ug: int


@dataclass(frozen=True, slots=True)
class Doubted:
    """From here on the weights of this batch cannot be shown to be right, and why."""

    kind: ClassVar[str] = "doubted"
    at_ms: int
    why: str


PAUSED, RESTLESS = "paused", "restless"


@dataclass(frozen=True, slots=True)
class Waited:
    """While this component was called nothing came of it for so long: ``paused``, hardener was
    in and nothing was poured; ``restless``, the weight did not come to rest. No doubt."""

    kind: ClassVar[str] = "waited"
    at_ms: int
    why: str
    component: int
    for_ms: int


@dataclass(frozen=True, slots=True)
class Capped:
    """What puts a ratio right must leave no more than this in the cup, by the estimate of its
    heat and its pot life (:func:`mixer.app.life.use_up.cap_ug`). ``None``: no cap is known, or
    what was asked for is beyond each already."""

    kind: ClassVar[str] = "capped"
    at_ms: int
    most_ug: int | None


@dataclass(frozen=True, slots=True)
class Kept:
    """The batch is used although its ratio is out of band: the builder said so."""

    kind: ClassVar[str] = "kept"
    at_ms: int


@dataclass(frozen=True, slots=True)
class Learned:
    """What pouring this component showed of the hand (reaction, closing and fall, in
    milliseconds) and of what its jug drips; ``None`` where it was not measured. No part of
    how the batch stands: later batches are cued by it."""

    kind: ClassVar[str] = "learned"
    at_ms: int
    component: int
    hand_ms: int | None
    drip_ug: int | None


@dataclass(frozen=True, slots=True)
class Noted:
    """The builder's own words."""

    kind: ClassVar[str] = "noted"
    at_ms: int
    text: str


@dataclass(frozen=True, slots=True)
class Stirring:
    """Everything is in the cup; the stir has begun."""

    kind: ClassVar[str] = "stirring"
    at_ms: int
    stir_ms: int


@dataclass(frozen=True, slots=True)
class Live:
    """The cup is live and has a number. Ratios are hardener per 100 resin by weight."""

    kind: ClassVar[str] = "live"
    at_ms: int
    cup: int
    verdict: str
    amounts_ug: tuple[int, ...]
    ratio_target: float
    ratio_actual: float | None
    unproven_because: str | None


@dataclass(frozen=True, slots=True)
class Ended:
    """The batch ended before it was live: ``dropped``, ``interrupted``, ``scale-lost``;
    or ``abandoned``: the program was cut off, and another batch was begun after it."""

    kind: ClassVar[str] = "ended"
    at_ms: int
    how: str
    verdict: str
    amounts_ug: tuple[int, ...]
    ratio_target: float
    ratio_actual: float | None
    unproven_because: str | None


Fact = (
    Opened
    | Tared
    | Called
    | Jug
    | Begun
    | Accepted
    | Lost
    | Gained
    | Parting
    | Parted
    | Held
    | Resumed
    | Doubted
    | Waited
    | Capped
    | Kept
    | Learned
    | Noted
    | Stirring
    | Live
    | Ended
    | Splitting
    | Shared
    | Filled
    | Moved
    | Divided
    | Weighing
    | JugWeight
)
