"""A live cup that is split, filled or moved away from the bench, told afterwards.

The same facts as at the bench (:mod:`mixer.pour.sharing`), with masses as they were typed.
Every refusal is :class:`NotDone` with one sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from mixer import units
from mixer.app.bench.splitting import known_fillers
from mixer.app.book.paperwork import fact, writing
from mixer.app.clock import Clock
from mixer.app.life.live import Live, look
from mixer.app.resolve import Refused, words
from mixer.app.sentence import NotDone, sentence
from mixer.pour import fillers
from mixer.pour.cup_facts import Filled, Moved, Shared
from mixer.pour.cups import MOST_SHARES, SLACK
from mixer.pour.plain import to_plain
from mixer.record.journal import Journal
from mixer.record.views import BatchRow, LiveCup, batch_rows, find_live, free_cup_number

UNWEIGHED = ("?", "unknown")
MOST_FILLER = 2  # times what is in the cup: more at once is a slip (our choice)


def split(record: Path, cup: int, into: Sequence[str], layup: str | None = None) -> str:
    """Shares of this live cup into cups of their own, each a mass in words or ``?``, all for
    this ``layup``, or the batch's; what their numbers are, in one sentence."""
    try:
        layup = words(layup.strip(), "layup") if layup and layup.strip() else None
    except Refused as error:
        raise NotDone(sentence(error)) from None
    with writing(record) as journal:
        journal.claim()  # no other program may be given the same numbers
        return split_cup(journal, cup, into, layup)


def split_cup(journal: Journal, cup: int, into: Sequence[str], layup: str | None = None) -> str:
    """The same in a record that nobody else writes to."""
    masses = [_mass_ug(text) for text in into]
    clock = Clock()
    there = look(journal, journal.path)
    live = _found(there, cup)
    row = batch_rows(journal.entries(live.batch))[0]
    _may_be_split(row, live, masses)
    # Nor that of a cup of this batch that is closed: its facts are told apart by number.
    numbers = [c.number for c in row.cups]
    for _ in masses:
        numbers.append(free_cup_number(there.cups, (*there.taken, *numbers)))
    shares = [
        Shared(0, number, cup, mass_ug, None if mass_ug is None else "typed", layup=layup)
        for number, mass_ug in zip(numbers[-len(masses) :], masses, strict=True)
    ]
    journal.append([fact("shared", to_plain(one), live.batch, clock) for one in shares])
    told = ", ".join(f"cup {one.cup} ({_told(one.mass_ug)})" for one in shares)
    return f"Cup {cup} (batch {live.batch}) is split into {told}: write the numbers on them."


def fill(record: Path, cup: int, name: str, mass: str | None) -> str:
    """Filler that went into this live cup, and so much of it."""
    mass_ug = None if mass is None else _mass_ug(mass)
    known, _ = known_fillers()
    filler = fillers.find(known, name)
    clock = Clock()
    try:
        told = filler.name if isinstance(filler, fillers.Filler) else words(name.strip(), "with")
    except Refused as error:
        raise NotDone(sentence(error)) from None
    if not told:
        raise NotDone("with: nothing was given; give the filler, such as 'wet micro'.")
    about = dict(filler.about) if isinstance(filler, fillers.Filler) else {}
    weights = None if mass_ug is None else "typed"
    made = Filled(0, cup, told, mass_ug, weights, about=about)  # type: ignore[arg-type]
    with writing(record) as journal:
        journal.claim()
        live = _found(look(journal, record), cup)
        most_ug = max(fillers.MOST_UG, MOST_FILLER * live.total_ug)
        if mass_ug is not None and mass_ug > most_ug:
            raise NotDone(
                f"mass: {units.shown(mass or '')} is more filler than cup {cup} takes; give up to "
                f"{_told(most_ug)} at once, or '?' for what was not weighed."
            )
        journal.append([fact("filled", to_plain(made), live.batch, clock)])
    return f"Cup {cup} (batch {live.batch}): {told}, {_told(mass_ug)}."


def move(record: Path, cup: int) -> str:
    """All of this live cup was scraped into a second, clean one, which has its number now."""
    clock = Clock()
    with writing(record) as journal:
        journal.claim()
        live = _found(look(journal, record), cup)
        journal.append([fact("moved", to_plain(Moved(0, cup)), live.batch, clock)])
    return f"Cup {cup} (batch {live.batch}) is a second, clean cup now: write {cup} on it."


def _found(there: Live, cup: int) -> LiveCup:
    live = find_live(there.cups, cup)
    if live is None:
        numbers = ", ".join(str(c.cup) for c in there.cups) or "none"
        raise NotDone(f"Cup {cup} is not live; live cups: {numbers}. {there.say}".strip())
    return live


def _may_be_split(row: BatchRow, live: LiveCup, masses: Sequence[int | None]) -> None:
    if live.filler:
        raise NotDone(
            f"Cup {live.cup} has filler in it ({live.filler}): how much of it went along nobody "
            "knows; a note is accepted."
        )
    if len(row.cups) + len(masses) > MOST_SHARES + 1:
        raise NotDone(
            f"A batch is split into {MOST_SHARES + 1} cups at the most; batch {live.batch} would "
            f"have {len(row.cups) + len(masses)}."
        )
    asked_ug = sum(mass or 0 for mass in masses)
    if asked_ug > live.total_ug + SLACK * (row.sum_ug() or 0):
        raise NotDone(
            f"into: {asked_ug / 1e6:.1f} g is more than cup {live.cup} held, "
            f"{live.total_ug / 1e6:.1f} g."
        )


def _mass_ug(text: str) -> int | None:
    if text.strip().lower() in UNWEIGHED:
        return None
    try:
        mass_ug = units.mass_ug(text, "mass")
    except units.UnitsError as error:
        raise NotDone(f"{sentence(error)[:-1]}, or '?' for what was not weighed.") from None
    if mass_ug <= 0:
        raise NotDone(f"mass: {units.shown(text)} is nothing; give a mass above zero, or '?'.")
    return mass_ug


def _told(mass_ug: int | None) -> str:
    return "not weighed" if mass_ug is None else f"{mass_ug / 1e6:.1f} g"
