"""What the commands of a live cup do: ``close``, ``split``, ``fill``, ``move``, ``thick``, and
``air`` for all of them. The words are read in :mod:`mixer.cli`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.book.record_path import record_path
from mixer.app.spoken import done, tell

if TYPE_CHECKING:
    from argparse import Namespace


def close(args: Namespace) -> int:
    from mixer.app.book.paperwork import close_cup, writing

    record = record_path(args.record)
    how = "left" if args.left is not None else "used-up" if args.used_up else "discard"
    with writing(record) as journal:
        done(close_cup(journal, args.cup, how, args.left))
    return _done(record)


def split(args: Namespace) -> int:
    from mixer.app.book.split import split as split_it

    record = record_path(args.record)
    done(split_it(record, args.cup, args.into, args.layup))
    return _done(record)


def fill(args: Namespace) -> int:
    from mixer.app.book.split import fill as fill_it

    record = record_path(args.record)
    done(fill_it(record, args.cup, args.filler, args.mass))
    return _done(record)


def move(args: Namespace) -> int:
    from mixer.app.book.split import move as move_it

    record = record_path(args.record)
    done(move_it(record, args.cup))
    return _done(record)


def thick(args: Namespace) -> int:
    from mixer.app.life.told_of_cups import thick as thicken_it

    record = record_path(args.record)
    done(thicken_it(record, args.cup))
    return _done(record)


def air(args: Namespace) -> int:
    from mixer.app.life.told_of_cups import air as say_it

    record = record_path(args.record)
    done(say_it(record, args.temperature.strip()))
    return _done(record)


def _done(record: Path) -> int:
    from mixer.app.book import looking

    if trouble := looking.trouble(record):
        tell(trouble)
    return 0
