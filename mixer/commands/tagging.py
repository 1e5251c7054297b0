"""What the commands for tags and cards do: they mix nothing and record nothing.

The words are read in :mod:`mixer.cli`. Nothing heavy may be imported at the top of this
file: the window is waited for.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.spoken import visible

if TYPE_CHECKING:
    from argparse import Namespace

    from mixer.app.files.profiles import ResinProfile

A_TAG = "A tag tells what was scanned, not what is in a jug: its label comes first."


def tags(args: Namespace) -> int:
    """A sheet of jugs' tags, of command cards and numbered tags, or of a layup's ply kits."""
    from mixer.app.sentence import NotDone
    from mixer.app.tags import tag_cards, tag_sheet

    about, new = A_TAG, list[str]()
    if args.ply and args.what in ("cards", "jugs"):
        raise NotDone("--ply is for the kits of a layup: cupside tags LAYUP --ply 1-4")
    if args.what == "cards":
        if args.resin:
            raise NotDone("--resin is for the tags of jugs: cupside tags jugs --resin R")
        cards = tag_cards.command_cards()
        left = max(1, tag_sheet.A_PAGE - len(cards))  # of the page, if nobody says how many
        cards += tag_cards.numbered_cards(tag_cards.numbers(args.numbers or f"1-{left}"))
    elif args.what == "jugs":
        if args.numbers:
            raise NotDone("--numbers is for the numbered tags: cupside tags cards --numbers 1-5")
        resins = _resins(args.resin)
        cards = [card for resin in resins for card in tag_cards.jug_cards(resin)]
        new = [line for resin in resins for line in tag_cards.to_add(resin)]
    else:
        if args.resin or args.numbers:
            raise NotDone("--resin is for the tags of jugs, and --numbers for the cards")
        from mixer.app.tags.layup_cards import A_KIT, layup_cards

        about = A_KIT
        cards, new = layup_cards(args.what, args.ply)
    count = tag_sheet.write(cards, Path(args.to), args.paper, about)
    page = "1 page" if count == 1 else f"{count} pages"
    are = "1 card" if len(cards) == 1 else f"{len(cards)} cards"
    print(visible(f"{are} on {page} {'is' if len(cards) == 1 else 'are'} in {args.to}. {about}"))
    for line in new:
        print(visible(line))
    return 0


def _resins(asked: list[str]) -> list[ResinProfile]:
    """Those that were named; else the user's own: those that are confirmed, if any is."""
    from mixer.app.files.confirm import default_store, is_confirmed
    from mixer.app.files.folders import config_folder, names
    from mixer.app.files.profiles import load_resin
    from mixer.app.sentence import NotDone

    wanted = dict.fromkeys(asked) or names("resins", (config_folder(),))  # each once
    found = [load_resin(name) for name in wanted]
    if not found:
        raise NotDone("whose jugs? give --resin NAME or FILE, once for each resin")
    confirmed = [] if asked else [one for one in found if is_confirmed(one, default_store())]
    return confirmed or found


def tag(args: Namespace) -> int:
    """What a numbered tag means: told, or given."""
    from mixer.app.sentence import NotDone
    from mixer.app.tags import tag_meanings

    store = tag_meanings.default_store()
    if args.kit is not None:
        from mixer.app.tags.layup_cards import one_kit

        if args.meaning is not None:
            raise NotDone("a tag means a kit, or something in words: leave one of them out")
        kit = one_kit(args.kit, ",".join(args.ply or ()))
        print(visible(tag_meanings.give(args.number, kit, store)))
    elif args.ply is not None:
        raise NotDone("--ply is of a kit: cupside tag 7 --kit LAYUP --ply 1-4")
    elif args.meaning is not None:
        print(visible(tag_meanings.give(args.number, args.meaning, store)))
    else:
        said = tag_meanings.told(tag_meanings.meaning(args.number, store)) or "no meaning"
        print(visible(f"Tag {args.number}: {said}."))
    return 0
