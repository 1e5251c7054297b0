"""What is told of live cups while no bench is on: how warm the air is, and that one thickens.

The same facts as at the bench (:mod:`mixer.app.life.cup_words`); what follows from them is foretold
once it runs again, and which clocks wait for that is said. Every refusal is :class:`NotDone` with
one sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from mixer import units
from mixer.app.book.paperwork import fact, writing
from mixer.app.clock import Clock
from mixer.app.life.clocks import is_young
from mixer.app.life.cup_words import air_now, thickening
from mixer.app.life.live import look
from mixer.app.life.thickenings import is_drawn, seen_before
from mixer.app.sentence import NotDone, sentence
from mixer.record.reader import Reader
from mixer.record.views import LiveCup, Moment


def air(record: Path, text: str) -> str:
    """So warm is the air now, for every live cup; in one sentence."""
    try:
        data = air_now(text)
    except units.UnitsError as error:
        raise NotDone(sentence(error)) from None
    clock = Clock()
    with writing(record) as journal:
        journal.claim()
        there = look(journal, record)
        batches = dict.fromkeys(cup.batch for cup in there.cups)
        if not batches:
            raise NotDone(
                f"No cup is live: say how warm the air is when one is. {there.say}".strip()
            )
        journal.append([fact("measured", data, batch, clock) for batch in batches])
    cups = ", ".join(str(cup.cup) for cup in there.cups)
    return f"The air is at {data['air_c']:g} degC: kept for the live cups ({cups})."


def thick(record: Path, text: str) -> str:
    """This live cup is thickening; in one sentence, and one of the cups that it leaves behind."""
    clock = Clock()
    with writing(record) as journal:
        journal.claim()
        cup, data, said = thickening(text, look(journal, record).cups, clock.now())
        journal.append([fact("thickened", data, cup.batch, clock)])
        its = [c for c in look(journal, record).cups if c.resin_system == cup.resin_system]
        behind = _behind(journal, its, clock.now())
    if behind:
        *first, last = map(str, behind)
        who = f"Cups {', '.join(first)} and {last} go" if first else f"Cup {last} goes"
        whom = "them" if first else "it"
        said += f" {who} by what was foretold of {whom} before, until a bench is open."
    return said


def _behind(record: Reader, cups: Sequence[LiveCup], now: Moment) -> list[int]:
    """The cups of which something else was foretold than would be now, by what was said of their
    resin."""
    return [
        cup.cup
        for cup in cups
        if cup.foretold and cup.thickened_s is None and is_young(cup, now)
        if not is_drawn(cup.foretold, seen_before(record, cup.row))
    ]
