"""What the bench says to a tag of ours, and to the cards that are no word to a batch.

A jug's tag that the batch's own profile names is the pour's affair (:mod:`mixer.pour.jugs`):
it must come there whatever it looks like. All else of ours is told what it is, or why it is
refused, and changes nothing of a batch that is on; a kit is handed to the bench for the next.
"""

from __future__ import annotations

from dataclasses import dataclass

from mixer.app.sentence import NotDone, sentence
from mixer.app.tags import tag_meanings
from mixer.plan.layup import spoken
from mixer.plan.tags import Jug, Kit, Numbered, TagError, is_ours, read
from mixer.pour.inputs import Key
from mixer.pour.state import Pour

NOT_YET = "A batch is on: next is for after it, and go for its next jug."
KIT_FIRST = "A batch goes by its cloth where its size is kit: cupside mix --size kit."
TYPED = "was typed by hand, which does nothing in the window: press its key or scan its card."
NO_CUP = "No cup is live."


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence; ``heard``: with a bell, as it may be a slip; ``kit``: of which one."""

    text: str
    heard: bool = False
    kit: Kit | None = None


def answer(key: Key, pour: Pour | None) -> Said | None:
    """What is said to this word, ``pour`` being the batch that is on; ``None``: it is not for
    here.

    >>> from mixer.plan.tags import payload
    >>> answer(Key(0, "jug", payload(Kit("rib 3", (1, 2), 0.5, 200))), None).text
    'Kit rib 3: plies 1-2, 0.5 m2 of 200 g/m2, dry cloth 100 g.'
    >>> answer(Key(0, "go"), None), answer(Key(0, "jug", "4006381333931"), None)
    (None, None)
    """
    if key.word == "next":
        return Said(NOT_YET)
    if key.word == "usedup":
        return Said(NO_CUP)
    if key.word == "typed":
        return Said(f"{key.text} {TYPED}", heard=True)
    if key.word == "kit" and not is_ours(key.text):
        return Said(KIT_FIRST)
    if key.word not in ("jug", "kit") or not is_ours(key.text) or _is_named(key.text, pour):
        return None
    try:
        tag = read(key.text)
    except TagError as error:
        text = sentence(error)
        return Said(text[0].upper() + text[1:], heard=True)
    if isinstance(tag, Numbered):
        return _meant(tag.number)
    kit = tag if isinstance(tag, Kit) else None
    return Said(_told(tag, pour), heard=isinstance(tag, Jug) and pour is not None, kit=kit)


def _is_named(text: str, pour: Pour | None) -> bool:
    tags = [c.tag.lower() for c in pour.terms.recipe.components if c.tag] if pour else []
    return text.strip().lower() in tags


def _told(tag: Kit | Jug, pour: Pour | None) -> str:
    match tag:
        case Kit():
            cloth = f"{tag.area_m2:g} m2 of {tag.cloth_g_m2:g} g/m2, dry cloth {tag.cloth_g:.0f} g"
            return f"Kit {tag.name}: plies {spoken(tag.plies)}, {cloth}."
        case Jug():
            said = f"This tag is that of {tag.resin}'s {tag.component}"
            if pour is None:
                return f"{said}."
            if tag.resin != (pour.system or "").lower():
                return f"{said}, and {pour.system or 'another resin'} is poured: put it down."
            return f"{said}, but its profile does not name it: nothing is known of this jug."


def _meant(number: int) -> Said:
    try:
        said = tag_meanings.meaning(number, tag_meanings.default_store())
        kit = tag_meanings.kit_in(said)
    except (NotDone, TagError) as error:
        return Said(f"Tag {number}: {sentence(error)}")
    none = f'nothing yet; cupside tag {number} "..." gives it a meaning'
    return Said(f"Tag {number} means {tag_meanings.told(said) or none}.", kit=kit)
