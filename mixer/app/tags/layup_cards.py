"""A layup's ply kits as cards: one for each group of plies that is wetted together.

What cannot be a tag is refused with the plies and what would be accepted; what has no cloth
is said, so that nobody takes the sheet for all of the work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from mixer import units
from mixer.app.files.cloth import load_method
from mixer.app.files.folders import names
from mixer.app.files.layup_file import USUAL_METHOD, load_layup
from mixer.app.resolve import Refused
from mixer.app.resolve import plies as written_plies
from mixer.app.sentence import NotDone
from mixer.app.tags.tag_cards import Card, kit_card
from mixer.plan.kits import CutKit, kit_of, kits, without_cloth
from mixer.plan.layup import Layup, NoPly, numbered, spoken
from mixer.plan.tags import TagError

A_KIT = "A kit's tag tells its outlines, not what was cut."


def layup_cards(layup: str, chosen: Sequence[str]) -> tuple[list[Card], list[str]]:
    """The cards, and what is to be said beside. With ``chosen`` a kit for each of these lists
    of plies instead. Raises ValueError with one sentence.

    >>> cards, _ = layup_cards("demo-panel", ["4-9"])
    >>> cards[0].lines[0]
    'plies 4-9: spar cap'
    """
    found = load_layup(layup)
    if not found.plies:
        raise NotDone(f"{found.name} has no plies: there is no kit to make a tag of")
    try:
        method = _named(found.method)
        if chosen:
            cut = [kit_of(found, _numbers(text), method) for text in chosen]
        else:
            cut = list(kits(found, method))
    except (NoPly, Refused) as error:
        raise NotDone(f"{layup}: --ply: {error}") from None
    said = _left_out(found, [ply for one in cut for ply in one.kit.plies])
    if none := without_cloth(found):
        said.append(f"No tag for {', '.join(none)}: no cloth; cupside size tells what they take.")
    if found.method != USUAL_METHOD:
        said.append(f"At the bench they are sized by the method {method}, which has to be there.")
    return [_card(one, layup) for one in cut], said


def _left_out(layup: Layup, plies: list[int]) -> list[str]:
    """Which plies have no tag, to be said. :class:`NotDone` where one has two."""
    if twice := sorted({ply for ply in plies if plies.count(ply) > 1}):
        raise NotDone(f"--ply: ply {twice[0]} is in two kits; give each ply to one")
    missing = {ply.number for ply in layup.plies}.difference(plies)
    return [f"No tag for plies {spoken(missing)}: none of the kits has them."] if missing else []


def one_kit(layup: str, plies: str) -> str:
    """What the tag of one kit says: of these plies, or of all. Raises ValueError with one
    sentence."""
    numbers = plies or spoken([ply.number for ply in load_layup(layup).plies])
    cards, _ = layup_cards(layup, [numbers])
    return cards[0].code


def _named(method: str) -> str:
    """The name of a method as a tag has it: none of the usual one, of a file that of its stem,
    unless the bench would take another for it."""
    if method == USUAL_METHOD:
        return ""
    name = Path(method).stem.lower()  # as a tag has it
    if name in names("methods"):
        there = replace(load_method(name), name="")
        if replace(load_method(method), name="") != there:
            raise NotDone(
                f"method: {units.shown(method)} would be {name} on a tag, by which the bench knows "
                "a method with other values; give the file a name of its own, in the layup too"
            )
    return Path(method).stem


def _numbers(text: str) -> tuple[int, ...]:
    written_plies(text)  # refuses what is no list of plies
    return numbered(text)


def _card(one: CutKit, layup: str) -> Card:
    try:
        return kit_card(one.kit, one.step, one.cloth)
    except TagError as error:
        told = str(error)
        if " name" in told and not told.startswith("method"):
            told += f"; a kit has the name of its layup's file, {one.kit.name}: rename that"
        if "give plies" in told:
            told += ", chosen with --ply, and the others a layup of their own"
        which = f"{'ply' if len(one.kit.plies) == 1 else 'plies'} {spoken(one.kit.plies)}"
        raise NotDone(f"{layup}: {one.step}, {which}: {told}") from None
