"""What a scale with no cable shows: as the builder says it, and as it is to be.

Pure. All figures here are running totals on the scale's own display ("gross"), so that the
builder never subtracts: from zero where the empty cup was zeroed there, else with the cup.
What is said is volatile until ``go``; what is asked for follows from the facts alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from mixer.pour import bands, parting, words
from mixer.pour.recipe import UG_PER_G
from mixer.pour.standing import after_settling, without_room
from mixer.pour.state import Pour

FAR, FAR_STEPS = 0.05, 10  # of what is asked for, and so many steps (our choice)
LESS_THAN_NOTHING = "The scale shows less than nothing: zero it with the empty cup on it."
_FIGURE = re.compile(r"(-?[0-9]{1,6}(?:[.,][0-9]{0,6})?|-?[.,][0-9]{1,6}) ?(?:g|grams?)?", re.I)


@dataclass(frozen=True, slots=True)
class Entry:
    """What the builder says that the scale shows, not yet gone on from.

    ``text`` as it was said, empty where nothing was; ``gross_ug`` its mass, and ``None``
    where it does not do: then ``wrong`` says why. ``asked``: it is surprising, and the
    builder has been asked whether it is so.
    """

    text: str = ""
    gross_ug: int | None = None
    wrong: str = ""
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Ask:
    """The total that the display is to show, and the least and the most that are accepted,
    in steps of that display; ``low_ug`` above ``high_ug`` where none of them is within the
    limits. ``as_asked``: with it the batch is complete, so that ``go`` alone may say that
    it is shown."""

    target_ug: int
    low_ug: int
    high_ug: int
    as_asked: bool = False


def read_ug(text: str) -> int | None:
    """A figure off a display in grams, as micrograms; ``None``: it is none.

    >>> read_ug("44.3"), read_ug(" 44,3 g"), read_ug("0.0"), read_ug("4 4"), read_ug("1e3")
    (44300000, 44300000, 0, None, None)
    """
    found = _FIGURE.fullmatch(text.strip())
    if found is None or not text.isascii():
        return None
    return int(Decimal(found[1].replace(",", ".")) * UG_PER_G)


def division_ug(pour: Pour) -> int:
    """One step of the display; that of a scale which is read is no matter here."""
    return pour.terms.typed_division_ug or 1


def beyond(pour: Pour, text: str, gross_ug: int) -> str:
    """Why this scale cannot show that; empty where it can."""
    step, most = division_ug(pour), pour.terms.scale_most_ug
    if rest := gross_ug % step:
        low = gross_ug - rest
        near = f"{words.grams(low, step)} or {words.grams(low + step, step)}"
        return (
            f"{text.strip()} is between two steps of {words.grams(step, step)}: type {near}. A "
            "display of finer steps is told at the start, as typed:0.01g."
        )
    if most is not None and gross_ug > most:
        return f"The scale carries no more than {words.grams(most, step)}: type what it shows."
    return ""


def known_ug(pour: Pour) -> int:
    """The last total that was gone on from."""
    if pour.parting is not None:
        return pour.parting.gross_ug
    if pour.called is not None:
        return pour.called.base_ug
    return (pour.tared.tare_ug if pour.tared else 0) + sum(pour.amounts_ug)


def ask_of(pour: Pour, now_s: float) -> Ask | None:
    """What the display is to show now; ``None`` while no figure is wanted."""
    if pour.held_by_hand or pour.stage not in ("cup", "pour"):
        return None
    if pour.stage == "cup":
        return Ask(0, 0, 0, as_asked=True)
    if pour.parting is not None:
        return _parted(pour) if parting.left_s(pour, now_s) <= 0 else None
    called = pour.called
    if called is None:
        return None
    step, base = division_ug(pour), called.base_ug - called.before_ug
    low, high = -(-(base + called.low_ug) // step) * step, (base + called.high_ug) // step * step
    low = max(low, words.up(called.base_ug, step))  # nothing is taken out again
    target = (base + called.target_ug + step // 2) // step * step
    target = min(max(target, low), high) if low <= high else target
    done = after_settling(pour, pour.net_ug(target)).cup
    return Ask(target, low, high, as_asked=low <= high and bands.next_call(done) is None)


def _parted(pour: Pour) -> Ask:
    """The most that may be left in the cup, so that its correction has room."""
    assert pour.parting is not None
    out_ug = parting.to_take_out_ug(pour.cup) or 0
    step, gross = division_ug(pour), pour.parting.gross_ug
    most = (gross - out_ug) // step * step
    return Ask(most, words.up(pour.cup.tare_ug + 1, step), most)


def is_far(pour: Pour, net_ug: int) -> bool:
    """Whether so much of the called component is rather a slip of the finger; an addition that
    is over is asked about anyway."""
    return pour.called is not None and not pour.called.addition and is_slip(pour, net_ug)


def is_slip(pour: Pour, net_ug: int) -> bool:
    """As :func:`is_far`, of an addition too."""
    called = pour.called
    assert called is not None
    return abs(net_ug - called.target_ug) > max(
        FAR * called.target_ug, FAR_STEPS * division_ug(pour)
    )


def is_resin_alone(pour: Pour) -> bool:
    """Whether some of what is called can be taken out again: nothing else is in the cup."""
    return pour.called is not None and pour.called.component == 0 and not any(pour.poured[1:])


def is_stuck(pour: Pour, net_ug: int) -> bool:
    """Whether this is over the band, and more of another component cannot put it right; or none
    of it is in, and it has no room."""
    called = pour.called
    assert called is not None
    if is_resin_alone(pour):
        return net_ug > called.high_ug
    return without_room(pour, net_ug) is not None


def stuck_ug(pour: Pour, entry: Entry) -> int | None:
    """The total that is to be judged: as it was said, or the last known where what is asked for
    has no room."""
    if entry.gross_ug is None and pour.called is not None and is_stuck(pour, pour.called.before_ug):
        return pour.called.base_ug
    return entry.gross_ug
