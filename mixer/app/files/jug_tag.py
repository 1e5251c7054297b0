"""The tag of a jug, as a resin profile names it: what a scanner reads off the container.

A scanner looks like a keyboard. So a tag must not be a word that a keyboard says to the bench,
nor one that it could take for a pedal or for a figure typed by hand.
"""

from __future__ import annotations

import re

from mixer.app.files.toml_table import Table
from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.plan.tags import Jug, TagError, is_ours, read

LONGEST = 80  # of what the keyboard keeps of one scan (mixer.desk.keys)
STRAY = 2  # keys that may be hit before a card is scanned (mixer.desk.pace)
_PRINTABLE = re.compile("[ -~]{1,80}")
#: One digit and Enter, or and a blank, is a hand that types a figure, however fast.
_FIGURE = re.compile("[0-9.,]( .*)?")


def jug_tag(table: Table, resin: str, component: str) -> str | None:
    """The component's tag; ``None`` where the profile has none. Small and capital letters are
    one: so the window reads a scan. A tag of ours (:mod:`mixer.plan.tags`) has to be whole, and
    one of a jug this very jug's.

    >>> jug_tag(Table("mine.toml", "", {"tag": "R 17"}), "mine", "resin")
    'R 17'
    """
    if not table.has("tag"):
        return None
    tag = table.text("tag")
    if not _PRINTABLE.fullmatch(tag) or tag != tag.strip():
        accepted = f"1 to {LONGEST} printable ASCII characters, no blank at either end"
        raise table.wrong("tag", tag, accepted)
    cards = (*CARDS, *OF_THE_WINDOW)
    if any(tag.lower()[stray:] in cards for stray in range(STRAY + 1)):
        accepted = (
            f"a tag that is no command card ({', '.join(cards)}), nor one with up to {STRAY} "
            "characters before it"
        )
        raise table.wrong("tag", tag, accepted)
    if _FIGURE.fullmatch(tag):
        raise table.wrong("tag", tag, "a tag that does not begin as a figure of one digit")
    if is_ours(tag) and not _may_be(tag, resin, component):
        accepted = f"the tag of {resin}'s {component} as cupside tags jugs tells it"
        raise table.wrong("tag", tag, accepted)
    return tag


def _may_be(tag: str, resin: str, component: str) -> bool:
    try:
        ours = read(tag)
    except TagError:
        return False
    return not isinstance(ours, Jug) or (ours.resin, ours.component) == (resin.lower(), component)
