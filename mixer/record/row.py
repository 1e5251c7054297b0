"""One batch as a fold of its facts.

Pure. Facts are read for many years, by programs older and newer than the one that wrote
them: an unknown kind, an unknown key and a missing key are passed over, and no fact ever
ends the reading. Nothing that a fact decided is computed again here.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Literal

from mixer.record import cups
from mixer.record.corrections import ABOUT, Correction, read
from mixer.record.envelope import Entry
from mixer.record.later import KINDS, Later, said_otherwise
from mixer.record.later import corrected as later_corrected
from mixer.record.later import read as read_later

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
#: What goes with a resin, where that of a late entry is corrected.
_OF_RESIN = {"resin_source": str, "resin_confirmed": bool, "recipe": dict, "profile": dict}


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
    cups was when the builder first said that it thickens, by its number.
    ``told`` has what was corrected of ``opened``; ``entered_at`` is set where the batch
    was typed in, and ``mixed_utc`` then says when it was mixed. ``later`` is what was seen
    of its laminate.
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
    told: dict[str, Any] = field(default_factory=dict)
    corrections: tuple[Correction, ...] = ()
    later: tuple[Later, ...] = ()
    cups_told: cups.Told = field(default_factory=cups.Told)

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
        return _text(self.opened.get("resin_system"))

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
        """The cloth that it was sized by: ``cloth_ug`` of each kit, with ``layup``, ``plies``
        and whether it was ``weighed``."""
        kept = self.opened.get("kits")
        found = [kit for kit in kept if isinstance(kit, dict)] if isinstance(kept, list) else []
        return [kit for kit in found if (_whole(kit.get("cloth_ug")) or 0) > 0]

    @property
    def outcome(self) -> str:
        """``open`` while it is made, ``live``, ``closed``; or how it ended without a cup;
        ``entered`` where it was typed in, ``withdrawn`` where that was taken back."""
        if self.live_at is None and self.ended_how is not None:
            return self.ended_how
        if self.closed_at is not None:
            return "closed"
        return "open" if self.live_at is None else "live"

    def sum_ug(self, role: Role | None = None) -> int | None:
        """What is in the cup of this role (of all, without one); None if nothing is known."""
        components = self.components
        found = [
            mass_ug
            for index, mass_ug in self.amounts_ug.items()
            if role is None or (index < len(components) and components[index].get("role") == role)
        ]
        return sum(found) if found else None


def fold(row: BatchRow, entry: Entry) -> BatchRow:
    """The row once this fact is known.

    >>> warm = Entry("noted", {"text": "warm"}, 5, "b1", "2024-05-01T08:00:00.000Z", 7, "shop")
    >>> fold(BatchRow(7), warm).notes
    ('warm',)
    """
    data, when = entry.data, Moment(entry.utc, entry.at_ms, entry.boot)
    match entry.kind:
        case "opened":
            return replace(row, opened=data, opened_at=when)
        case "tared":
            # None of a cup that was zeroed on a scale with no cable: nobody knows its mass.
            return replace(row, tare_ug=_whole(data.get("tare_ug")) or None)
        case "begun" if row.contact is None and _is_hardener(row, data.get("component")):
            return replace(row, contact=_before(when, _whole(data.get("unseen_ms")) or 0))
        case "jug":
            return _jug(row, data)
        case "jug-weight":
            return _jug_weight(row, data)
        case "accepted":
            return _accepted(row, data)
        case "parted":
            return _parted(row, data)
        case "doubted":
            return replace(row, doubts=(*row.doubts, *_texts(data.get("why"))))
        case "noted":
            return _noted(row, data, when)
        case "corrected":
            return _corrected(row, data, when)
        case kind if kind in KINDS:
            one = read_later(kind, data)
            return row if one is None else replace(row, later=(*row.later, one))
        case "entered":
            return _entered(row, data, when)
        case "foretold":
            return replace(row, foretold=data)
        case "foretold-share" if (cup := _whole(data.get("cup"))) is not None:
            return replace(row, shares_foretold={**row.shares_foretold, cup: data})
        case "measured":
            return _measured(row, data, when)
        case "thickened":
            return _thickened(row, data)
        case "live":
            row = replace(row, cup=_whole(data.get("cup")), live_at=when)
            return _judged(row, data)
        case "ended":
            how = data.get("how")
            row = replace(row, ended_how=how if isinstance(how, str) else "ended")
            return _judged(row, data)
        case "closed":
            return replace(
                row,
                closed_at=when,
                closed_how=_text(data.get("how")),
                left_ug=_whole(data.get("left_ug")),
                cups_told=cups.follow(row.cups_told, entry.kind, data, when),
            )
        case "shared" | "filled" | "moved" | "emptied":
            return replace(row, cups_told=cups.follow(row.cups_told, entry.kind, data, when))
    return row


def _before(when: Moment, ms: int) -> Moment:
    """So much earlier: it may have begun when the weight could not be seen."""
    if not 0 < ms < 10**10:  # a hundred days: no pour lasts so long
        return when
    try:
        utc = datetime.fromisoformat(when.utc) - timedelta(milliseconds=ms)
        text = utc.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    except (ValueError, OverflowError):  # there is no such time
        text = when.utc
    return Moment(text, when.at_ms - ms, when.boot)


def _accepted(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component, net_ug = _whole(data.get("component")), _whole(data.get("net_ug"))
    if component is None or component < 0 or net_ug is None:
        return row
    return replace(row, amounts_ug={**row.amounts_ug, component: net_ug})


def _jug(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component, called = _whole(data.get("component")), _whole(data.get("called"))
    if component is None or called is None or not 0 <= called < len(row.components):
        return row
    return replace(row, jugs={**row.jugs, called: component})


def _jug_weight(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    component = _whole(data.get("component"))
    left_ug, due_ug = _whole(data.get("left_ug")), _whole(data.get("due_ug"))
    if component is None or left_ug is None or due_ug is None:
        return row
    return replace(row, jug_weights={**row.jug_weights, component: (left_ug, due_ug)})


def _measured(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    air_c = _figure(data.get("air_c"), None)
    if air_c is None:
        return row
    return replace(row, said_air=(*row.said_air, (when, air_c)))


def _thickened(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    """The first time that it was said of this cup counts."""
    age_s, cup = _figure(data.get("age_s"), None), _whole(data.get("cup")) or row.cup or 0
    if age_s is None or cup in row.thickened:
        return row
    return replace(row, thickened={**row.thickened, cup: age_s})


def _parted(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    before, after = _whole(data.get("from_ug")), _whole(data.get("gross_ug"))
    if before is None or after is None:
        return row
    return replace(_judged(row, data), parted_ug=(row.parted_ug or 0) + before - after)


def _noted(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    texts = _texts(data.get("text"))
    later = tuple(
        Correction("note", None, text, reason, when.utc)
        for text in texts
        for reason in _texts(data.get("reason"))
    )
    return replace(row, notes=(*row.notes, *texts), corrections=(*row.corrections, *later))


def _corrected(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    one = read(data, when.utc)
    if one is None:
        return row
    about = {name: value for name, value in one.changes.items() if name in ABOUT}
    row = replace(row, corrections=(*row.corrections, one), told={**row.told, **about})
    row = replace(row, later=later_corrected(row.later, one.field, one.value))
    air, thickened = said_otherwise(row.said_air, row.thickened, one.field, one.value)
    told = cups.corrected(row.cups_told, one.field, one.value)
    row = replace(row, said_air=air, thickened=thickened, cups_told=told)
    if one.field == "left_ug":
        return replace(row, left_ug=_whole(one.value))
    if one.field == "outcome" and row.ended_how in ENTRY and one.value in ENTRY:
        return replace(row, ended_how=one.value)
    if row.entered_at is None:
        return row  # what a scale weighed is not for a person to say
    if one.field == "mixed_utc":
        return replace(row, mixed_utc=_text(one.value))
    if one.field == "resin_system":
        return _of_resin(row, one)
    mass_ug = _whole(one.value)
    if one.field != "amount_ug" or one.component not in row.amounts_ug or mass_ug is None:
        return row
    return replace(
        row,
        amounts_ug={**row.amounts_ug, one.component: mass_ug},
        ratio_actual=_figure(one.follows.get("ratio_actual"), None),
        unproven_because=_text(one.follows.get("unproven_because")) or row.unproven_because,
    )


def _of_resin(row: BatchRow, one: Correction) -> BatchRow:
    known = {
        name: one.follows[name]
        for name, kind in _OF_RESIN.items()
        if isinstance(one.follows.get(name), kind)
    }
    opened = {**row.opened, **known, "resin_system": one.value}
    return _judged(replace(row, opened=opened), {**one.follows, "verdict": None})


def _entered(row: BatchRow, data: dict[str, Any], when: Moment) -> BatchRow:
    row = replace(row, opened=data, entered_at=when, ended_how="entered")
    row = replace(row, mixed_utc=_text(data.get("mixed_utc")))
    return _judged(replace(row, notes=(*row.notes, *_texts(data.get("note")))), data)


def _judged(row: BatchRow, data: dict[str, Any]) -> BatchRow:
    amounts = data.get("amounts_ug")
    told = dict(enumerate(amounts)) if isinstance(amounts, list) else {}
    known = {index: mass for index, mass in told.items() if _whole(mass) is not None}
    return replace(
        row,
        amounts_ug={**row.amounts_ug, **known},
        verdict=_text(data.get("verdict")) or row.verdict,
        ratio_target=_figure(data.get("ratio_target"), row.ratio_target),
        ratio_actual=_figure(data.get("ratio_actual"), row.ratio_actual),
        unproven_because=_text(data.get("unproven_because")) or row.unproven_because,
    )


def _is_hardener(row: BatchRow, component: object) -> bool:
    index, components = _whole(component), row.components
    if index is None or not 0 <= index < len(components):
        return False
    return components[index].get("role") == "hardener"


def _whole(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


def _figure(value: object, otherwise: float | None) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    return otherwise


def _text(value: object) -> str | None:
    return value if isinstance(value, str) else None


def _texts(value: object) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) and value else ()
