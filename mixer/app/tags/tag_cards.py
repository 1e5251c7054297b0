"""What stands on each card of a sheet: the code, and beside it what a gloved hand reads.

A command card is what its word is at the bench, and no more: the words are those of
:mod:`mixer.app.words`. A jug's code is the tag that its resin's profile names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from mixer.app.files.profiles import ResinProfile
from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.plan.layup import spoken
from mixer.plan.tags import MOST_NUMBER, Jug, Kit, Numbered, TagError, payload

#: What each command does, in the few words that a card has room for.
DOES = {
    "go": "on to the next step",
    "hold": "stop pouring, wait",
    "use": "use it, out of band",
    "part": "a part is taken out",
    "drop": "drop it: scan twice",
    "split": "to be split; a share",
    "moved": "in a second, clean cup",
    "next": "ask for a new batch",
    "usedup": "the live cup is empty",
}
SPELT = {"usedup": "used up"}


@dataclass(frozen=True, slots=True)
class Card:
    """One card: what its code says, its large word, and the lines below that."""

    code: str
    title: str
    lines: tuple[str, ...] = ()


def command_cards() -> list[Card]:
    """A card for each word that the bench takes from a scanner.

    >>> [card.title for card in command_cards()][:3]
    ['go', 'hold', 'next']
    """
    first = ("go", "hold", *OF_THE_WINDOW)
    words = (*first, *(word for word in CARDS if word not in first))
    return [Card(word, SPELT.get(word, word), (DOES.get(word, ""),)) for word in words]


def numbered_cards(numbers: Iterable[int]) -> list[Card]:
    """Tags to be used again and again, with a line to write on.

    >>> numbered_cards([7])[0].title
    'tag 7'
    """
    blank = "." * 30
    return [Card(payload(Numbered(one)), f"tag {one}", ("", blank)) for one in numbers]


def jug_cards(resin: ResinProfile) -> list[Card]:
    """One for each component. Raises :class:`TagError` where a name cannot be a tag's and the
    profile has none of its own."""
    return [
        Card(
            component.tag or own_tag(resin, component.name),
            component.name,
            (resin.name, resin.source),
        )
        for component in resin.components
    ]


def to_add(resin: ResinProfile) -> list[str]:
    """What its profile has to say so that the bench knows the tags that it does not name."""
    return [
        f'{resin.path}: under name = "{c.name}" write tag = "{own_tag(resin, c.name)}"'
        for c in resin.components
        if not c.tag
    ]


def own_tag(resin: ResinProfile, component: str) -> str:
    """The tag that this component's jug gets where its profile names none."""
    return payload(Jug(resin.name, component))


def kit_card(kit: Kit, step: str = "", cloth: str = "") -> Card:
    """That of a ply kit, with its step and its cloth in words where they are known.

    >>> kit_card(Kit("left wing top", (1, 2), 0.62, 300), "skin").lines
    ('plies 1-2: skin', '0.62 m2 of 300 g/m2', 'dry cloth 186 g')
    """
    plies = f"{'ply' if len(kit.plies) == 1 else 'plies'} {spoken(kit.plies)}"
    lines = (
        f"{plies}: {step}" if step else plies,
        cloth,
        f"{kit.area_m2:.4g} m2 of {kit.cloth_g_m2:.4g} g/m2",
        f"dry cloth {kit.cloth_g:.0f} g",
    )
    return Card(payload(kit), kit.name, tuple(line for line in lines if line))


def numbers(text: str) -> range:
    """Which numbered tags are wanted.

    >>> list(numbers("3-5")), list(numbers("8"))
    ([3, 4, 5], [8])
    """
    found = re.fullmatch("([0-9]{1,4})(?:-([0-9]{1,4}))?", text.strip())
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= last <= MOST_NUMBER:
        raise TagError(
            f"numbers: {text[:20]!r} was read; give 1-5 or the like, up to {MOST_NUMBER}"
        )
    return range(first, last + 1)
