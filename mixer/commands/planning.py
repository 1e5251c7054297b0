"""What the commands about layups and fillers do: they mix nothing and record nothing.

The words are read in :mod:`mixer.cli`. Nothing heavy may be imported at the top of this
file: the window is waited for.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.book.record_path import must_be_there, record_path
from mixer.app.sentence import NotDone
from mixer.app.spoken import tell, visible

if TYPE_CHECKING:
    from argparse import Namespace


def size(args: Namespace) -> int:
    from mixer.app.sizing.size import Asked, answer
    from mixer.app.sizing.size_view import lines

    said = {name: getattr(args, name) for name in Asked.__slots__}
    asked = Asked(**{**said, "ply": ",".join(args.ply) if args.ply else None})
    found = answer(asked, _record(args.record))
    print(json.dumps(found) if args.json else "\n".join(visible(line) for line in lines(found)))
    return 0


def _record(option: str | None) -> Path | None:
    """One that was named must be there; else a layup is sized without any too."""
    try:
        record = record_path(option)
    except NotDone:
        if option is not None:
            raise
        return None
    if option is not None:
        must_be_there(record)
    return record


def thicken(args: Namespace) -> int:
    from mixer.app.sizing.thicken import Asked, answer, lines

    found = answer(Asked(args.filler, args.mix, args.epoxy, args.volume, args.resin, args.cup))
    print(json.dumps(found) if args.json else "\n".join(visible(line) for line in lines(found)))
    return 0


def layup_check(args: Namespace) -> int:
    from mixer.app.files.layup_file import load_layup, told

    print("\n".join(visible(line) for line in told(load_layup(args.file))))
    return 0


def layup_import(args: Namespace) -> int:
    from mixer.app.files.layup_file import told
    from mixer.app.files.ply_table import import_table

    layup = import_table(Path(args.table), Path(args.to))
    print("\n".join(visible(line) for line in told(layup)))
    return 0


def layup_afterwards(args: Namespace) -> int:
    from mixer.app.book import looking
    from mixer.app.sizing.afterwards import Asked, answer, lines

    record = record_path(args.record)
    found = answer(Asked(args.file, args.layup, args.cloth), record)
    print(json.dumps(found) if args.json else "\n".join(visible(line) for line in lines(found)))
    if trouble := looking.trouble(record):  # it stays readable, and is marked
        tell(trouble)
    return 0
