"""What a builder says to the clocks: how warm the air is, and that a cup is thickening.

Each is a fact, and answered with one sentence; what it changes is foretold anew. Must never
take a figure for a temperature that has no unit, nor a word for another cup.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from mixer import units
from mixer.app.bench import paint
from mixer.app.life.clocks import Clocks
from mixer.app.life.cup_life import CREDIBLE, WRONG, is_too_soon
from mixer.app.sentence import NotDone, sentence
from mixer.pour.inputs import Key
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.views import LiveCup, Moment, find_live

WORDS = ("air", "thick")
NO_CUP = {
    "air": "No batch has begun, no cup is live and nothing cures: say how warm the air is then.",
    "thick": "No cup is live.",
}


def hear(
    key: Key,
    clocks: Clocks,
    journal: Journal,
    cups: Sequence[LiveCup],
    now: Moment,
    *,
    on: bool,
    number: int | None,
    curing: Sequence[int] = (),
) -> str:
    """Take one of :data:`WORDS`, and say so or why not. ``on``: a batch is, and ``number`` is its
    number, if it has one yet; ``curing`` are the batches whose laminates cure in this room."""
    try:
        if key.word == "air":
            batches = [cup.batch for cup in cups] + ([] if number is None else [number])
            batches += curing
            return _air(key.text, clocks, journal, list(dict.fromkeys(batches)), on)
        return _thick(key.text, clocks, journal, cups, now, on)
    except (NotDone, units.UnitsError) as error:
        return sentence(error)
    except RecordError as error:
        return f"{key.word} was not taken. {error.say}"


def air_now(text: str) -> dict[str, Any]:
    """The data of the fact that the air is so warm. Raises :class:`NotDone`, or UnitsError."""
    from mixer.app.life.life import temperature_c  # see :meth:`Clocks.follow`

    return {"air_c": temperature_c(text, "air"), "text": text}


def thickening(
    text: str, cups: Sequence[LiveCup], now: Moment
) -> tuple[LiveCup, dict[str, Any], str]:
    """Which of these cups is meant, the data of the fact that it thickens, and what is said then.
    Raises :class:`NotDone`."""
    numbers = ", ".join(str(cup.cup) for cup in cups) or "none"
    if not text and len(cups) != 1:
        raise NotDone(f"Which cup is thickening? Say thick with its number; live cups: {numbers}.")
    wanted = int(text) if text.isascii() and text.isdigit() and len(text) < 5 else None
    cup = cups[0] if not text else None if wanted is None else find_live(cups, wanted)
    if cup is None:
        raise NotDone(f"thick: {units.shown(text)} is no live cup; live cups: {numbers}.")
    if cup.thickened_s is not None:
        raise NotDone(
            f"That cup {cup.cup} thickens was said before; the first time counts, and cupside "
            f"record correct {cup.batch} --field thickened-{cup.cup} --value unknown --reason "
            "'…' takes it back."
        )
    age_s = int(paint.age_s(cup, now))
    model_s = cup.foretold.get("model_s")
    data = {"cup": cup.cup, "age_s": age_s, "model_s": model_s}
    return cup, data, f"Cup {cup.cup} is thickening: kept{_learned(cup, age_s)}"


def _learned(cup: LiveCup, age_s: int) -> str:
    """What later cups make of it, as :mod:`mixer.app.life.thickenings` does. Where nothing was
    foretold of it yet, whether it is too soon goes by the plain rule."""
    from mixer.app.life.foretelling import untold_yet  # see :meth:`Clocks.follow`

    later, model_s = f"later cups of {cup.resin_system}", cup.foretold.get("model_s")
    if is_too_soon(cup.foretold or untold_yet(cup.row, cup.contact, cup.later), age_s):
        return f", and {later} do not go by it. {WRONG} Spread it out: it may run hot."
    if cup.row.off:
        return f"; {later} do not go by it, as it was weighed off its ratio."
    if not model_s:
        return f"; {later} do not go by it, as no time was told for this one."
    if age_s > (1.0 if cup.split else CREDIBLE[1]) * model_s:
        return f"; {later} do not go by it, so late as it is."
    return f", and {later} go by it."


def _air(text: str, clocks: Clocks, journal: Journal, batches: Sequence[int], on: bool) -> str:
    data = air_now(text)
    if not batches:
        raise NotDone(NO_CUP["air"])
    clocks.measured(journal, data, batches, on=on)
    whose = "its clock follows" if len(batches) == 1 else f"the clocks of {len(batches)} follow"
    return f"The air is at {data['air_c']:g} degC: {whose}."


def _thick(
    text: str, clocks: Clocks, journal: Journal, cups: Sequence[LiveCup], now: Moment, on: bool
) -> str:
    cup, data, said = thickening(text, cups, now)
    clocks.thickens(journal, cup, data, on=on)
    return said
