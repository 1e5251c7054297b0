"""What the commands of ``cupside record`` do. The words are read in :mod:`mixer.cli`.

Those that only look never write, and tell on standard error what is wrong with the
record; what they show goes to standard output. None but ``add`` makes a record.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.book.record_path import record_path
from mixer.app.sentence import NotDone
from mixer.app.spoken import done, tell, visible

if TYPE_CHECKING:
    from argparse import Namespace

    from mixer.record.export import Stand

AMISS = "Something is amiss with this record: cupside record verify says what."
NEWER = "A newer version of the program wrote this record: what only that knows is not shown."


def list_batches(args: Namespace) -> int:
    from mixer.app.book.looking import table
    from mixer.app.book.show import listed, plain

    record = record_path(args.record)
    if args.json:
        found = table(record, args.lot)
        print(json.dumps([plain(row) for row in found.rows]))
        return _marked(found.stand.trouble)
    found = table(record, args.lot, lambda batches: _lines(listed(batches) if batches else ()))
    if not found.batches:
        which = "No batch of this lot" if args.lot else "No batch"
        print(f"{which} is {'found in what can be read' if found.stand.trouble else 'recorded'}.")
    if found.stand.trouble:  # on the paper too, where only this is printed
        print(_on_paper(found.stand))
    return _marked(found.stand.trouble)


def show(args: Namespace) -> int:
    from mixer.app.book import looking
    from mixer.app.book.show import as_json, form

    record, batch = record_path(args.record), looking.batch_number(args.batch)
    if args.json:
        shown, stand = looking.show(record, batch)
        print(json.dumps(as_json(shown, stand)))
    else:
        _, stand = looking.show(record, batch, lambda shown: _lines(form(shown)))
        print(_held(stand))
    return _marked(stand.trouble)


def export(args: Namespace) -> int:
    from mixer.app.book.looking import export_csv

    to = Path(args.to)
    found = export_csv(record_path(args.record), to)
    stand = found.stand
    print(
        visible(
            f"Written to {to}; batches: {len(found.batches)}; "
            f"{'facts' if stand.whole else 'newest fact'}: {stand.facts}; "
            f"head: {stand.head.hex()}."
        )
    )
    return _marked(stand.trouble)


def verify(args: Namespace) -> int:
    """0 where every fact is as it was stored and can be found, 1 where not."""
    from mixer.app.book import looking

    try:
        kept = looking.head(args.head) if args.head is not None else None
        finding = looking.verify(record_path(args.record), kept)
    except NotDone as error:
        tell(str(error))
        return 1
    print(visible(finding.say))
    return 0 if finding.ok else 1


def rebuild(args: Namespace) -> int:
    """0 where all of the record is whole now, 1 where something was lost or altered."""
    from mixer.app.book import looking

    record = record_path(args.record)
    built = looking.rebuild(record)
    stand = built.stand
    if built.lost and built.say:
        print(
            f"Carried over: {built.facts} facts; newest fact: {stand.facts}; "
            f"head: {stand.head.hex()}."
        )
        tell(
            f"{built.say} See what is left with cupside record list --record {record}, and look "
            "for the rest in the newest backup."
        )
        return 1
    print(f"Built anew from {built.facts} facts; head: {stand.head.hex()}.")
    if built.say:
        tell(built.say)
    _marked(stand.trouble)
    return 1 if stand.trouble else 0


def backup(args: Namespace) -> int:
    """0 where the copy is whole, 1 where it is one of a record that is not."""
    from mixer.app.book import looking

    to = Path(args.to)
    stand, whole = looking.backup(record_path(args.record), to)
    print(visible(f"Copied to {to}; facts: {stand.facts}; head: {stand.head.hex()}."))
    _marked(stand.trouble)
    return 0 if whole else 1


def correct(args: Namespace) -> int:
    from mixer.app.book import looking
    from mixer.app.book.corrections import correct as correct_it

    record, batch = record_path(args.record), looking.batch_number(args.batch)
    said = correct_it(record, batch, args.field, args.value, args.reason)
    done(said)
    return _marked(looking.trouble(record))


def add(args: Namespace) -> int:
    from mixer.app.book import looking
    from mixer.app.book.late_entry import Late
    from mixer.app.book.late_entry import add as add_it

    record, asked = record_path(args.record), {name: getattr(args, name) for name in Late.__slots__}
    done(add_it(record, Late(**asked)))
    return _marked(looking.trouble(record))


def cure(args: Namespace) -> int:
    from mixer.app.book import looking
    from mixer.app.life.cure_clock import answer
    from mixer.app.life.cure_words import lines
    from mixer.app.life.cure_words import of_late as late_lines
    from mixer.app.life.curing import of_late

    record = record_path(args.record)
    if args.batch is None and args.layup is None:
        found = of_late(record, args.air)
        said = late_lines(found)
    else:
        found = answer(record, args.batch, args.layup, args.air)
        said = lines(found)
    if args.json:
        print(json.dumps(found))
    else:
        _lines(visible(line) for line in said)
    return _marked(looking.trouble(record))


def seen(args: Namespace) -> int:
    """What was seen of a laminate later: a temperature, a witness cup, a finding."""
    from mixer.app.book import looking
    from mixer.app.book.laminate import Seen
    from mixer.app.book.laminate import add as keep

    record = record_path(args.record)
    asked = {name: getattr(args, name) for name in Seen.__slots__ if hasattr(args, name)}
    done(keep(record, Seen(**asked)))
    return _marked(looking.trouble(record))


def _lines(lines: Iterable[str]) -> None:
    """At once, also where the whole record has yet to be looked through."""
    for line in lines:
        print(line)
    sys.stdout.flush()


def _held(stand: Stand) -> str:
    """Where the record stands; of one that is not whole the number of its newest fact is not how
    many there are."""
    if not stand.facts:
        return "No fact of the record can be read."
    head = f"head {stand.head.hex()}."
    if stand.trouble:
        return f"{_on_paper(stand)} The newest fact that can be read is fact {stand.facts}; {head}"
    return f"The record holds {'1 fact' if stand.facts == 1 else f'{stand.facts} facts'}; {head}"


def _on_paper(stand: Stand) -> str:
    return NEWER if stand.whole else AMISS


def _marked(trouble: str) -> int:
    """A record that is not whole stays readable, and is marked; ``verify`` has the status."""
    if trouble:
        tell(trouble)
    return 0
