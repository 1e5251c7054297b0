"""What each numbered tag means, until it is given another meaning.

Kept in one small JSON file beside the user's own profiles. It is a label, and nothing that is
mixed is decided by it; or the tag of a ply kit, and then a scan is that kit's.
"""

from __future__ import annotations

from pathlib import Path

from mixer.app.files import small_store
from mixer.app.files.folders import config_folder
from mixer.app.sentence import NotDone
from mixer.plan.layup import spoken
from mixer.plan.tags import Kit, Numbered, TagError, is_ours, payload, read
from mixer.units import shown

LONGEST = 60


def default_store() -> Path:
    """Where the meanings are kept unless told otherwise."""
    return config_folder() / "tags.json"


def meaning(number: int, store: Path) -> str:
    """What this tag means; empty where it has no meaning. Raises :class:`NotDone`, and TagError
    where there can be no such tag."""
    payload(Numbered(number))
    return _read(store).get(str(number), "")


def give(number: int, text: str, store: Path) -> str:
    """Give the tag this meaning, or with an empty text none; a sentence that says so. Raises
    :class:`NotDone`, and TagError where there can be no such tag, or where the text is one of
    ours and damaged."""
    payload(Numbered(number))
    said = text.strip()
    kit = kit_in(said)
    if (kit is None and len(said) > LONGEST) or not said.isprintable():
        raise NotDone(f"{shown(text)} is no meaning; give up to {LONGEST} characters on one line")
    known = _read(store)
    before = known.pop(str(number), "")
    if said:
        known[str(number)] = said
    _write(store, known)
    was = f" It was: {told(before)}." if before and before != said else ""
    return f"Tag {number}: {told(said) or 'no meaning'}.{was}"


def kit_in(text: str) -> Kit | None:
    """The ply kit that a meaning is; None where it is a label. Raises TagError where it is a
    damaged tag."""
    if not is_ours(text):
        return None
    tag = read(text)
    if not isinstance(tag, Kit):
        raise TagError("a numbered tag may mean a kit, or something in words, and no other tag")
    return tag


def told(text: str) -> str:
    """A meaning in words.

    >>> told("rib 3"), told(payload(Kit("rib 3", (1, 2), 0.5, 200)))
    ('rib 3', 'kit rib 3, plies 1-2')
    """
    try:
        kit = kit_in(text)
    except TagError:  # somebody changed the file
        return text
    return text if kit is None else f"kit {kit.name}, plies {spoken(kit.plies)}"


def _read(store: Path) -> dict[str, str]:
    try:
        return small_store.read(store, "tags", str)
    except OSError as error:
        raise NotDone(f"{store} cannot be read ({error.strerror})") from error
    except small_store.Damaged as error:
        raise NotDone(
            f"{store} is damaged: no tag's meaning is known; move it away to begin anew"
        ) from error


def _write(store: Path, known: dict[str, str]) -> None:
    try:
        small_store.write(store, "tags", known)
    except OSError as error:
        raise NotDone(f"{store} cannot be written ({error.strerror}): nothing is kept") from error
