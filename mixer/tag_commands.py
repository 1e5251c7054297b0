"""What the commands for tags and cards do: they mix nothing and record nothing.

The words are read in :mod:`mixer.cli`. Nothing heavy may be imported at the top of this
file: the window is waited for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from mixer.app.spoken import visible

if TYPE_CHECKING:
    from argparse import Namespace


def tag(args: Namespace) -> int:
    """What a numbered tag means: told, or given."""
    from mixer.app import tag_meanings
    from mixer.plan.tags import Numbered, payload

    store = tag_meanings.default_store()
    if args.meaning is not None:
        print(visible(tag_meanings.give(args.number, args.meaning, store)))
    else:
        payload(Numbered(args.number))  # whether there can be such a tag
        said = tag_meanings.meaning(args.number, store) or "no meaning"
        print(visible(f"Tag {args.number}: {said}."))
    return 0
