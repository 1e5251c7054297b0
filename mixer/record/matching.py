"""Whether what stands beside the facts is what they say: what finds them, and the traces.

Asked of a record whose chain is whole. It only reads.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable, Container, Iterable, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from mixer.record import newest, projection, schema
from mixer.record.envelope import GENESIS, read
from mixer.record.trace import before_block, count, sealed

#: What a fact says of a trace, in its bytes: none of its texts has a quotation mark.
_TRACED = b',"data":{"hash":"%b","readings":%d},"kind":"traced","seq":'
#: boot, bytes, hash, batch, number and count of a block, whatever they hold
Block = tuple[Any, bytes, Any, Any, Any, Any]

#: What compares as equal, and is not found as that: 5.0 for 5, a blob for a text.
_OF_ANOTHER_TYPE = (
    "SELECT min(seq) FROM facts WHERE typeof(kind) <> 'text' OR typeof(batch) <> 'integer'"
)
#: Whether a pour of this batch was begun, and was on up to this fact.
_ON = (
    "SELECT EXISTS (SELECT 1 FROM facts WHERE batch = ? AND kind = 'opened')"
    " AND NOT EXISTS (SELECT 1 FROM facts WHERE batch = ? AND kind IN ('live', 'ended')"
    " AND seq <= ?)"
)


def misled(db: sqlite3.Connection, path: Path, layout: int) -> str:
    """A sentence where what finds the facts would miss one, or what an older layout repeats
    beside them is not what they say; else empty. Of a newer layout nothing is known."""
    if layout > schema.SCHEMA:
        return ""
    amiss = f"The chain is whole, but what finds its facts in {path} is"
    old = layout < schema.SCHEMA
    try:
        with schema.one_moment(db):
            (other,) = db.execute(_OF_ANOTHER_TYPE).fetchone()
            beside = schema.altered_beside(db) if old and other is None else None
            batch = None if old or other is not None else projection.wrong(db)
            gone = "" if old else newest.amiss(db, path)
            (sound,) = db.execute("PRAGMA integrity_check(1)").fetchone()
    except sqlite3.DatabaseError:
        sound, gone, batch, other, beside = "", "", None, None, None
    if other is not None:
        return f"Fact {other} is not as it was stored: no search by its batch or kind finds it."
    if beside is not None:
        return f"Fact {beside} is not as it was stored: what stands beside it is not what it says."
    if gone:
        return gone
    if sound == "ok" and batch is None:
        return ""
    if sound == "ok":
        return (
            f"{amiss} not as they say of batch {batch}: facts were cut off from the end, or "
            "this was altered; record rebuild builds it anew from the facts."
        )
    if old:  # on the way to this layout the damaged part would be read
        return f"{amiss} damaged: keep a copy of the file as it is."
    return f"{amiss} damaged: keep a copy, then let record rebuild write the file anew."


def bad_trace(
    db: sqlite3.Connection,
    blocks: Callable[[int | None], Iterable[Block]],
    traced: Sequence[tuple[int, bytes]],
    until: int,
    lost: Container[int] = (),
) -> str:
    """A sentence on the first weight trace that is not as it was stored, or not what the
    facts say of it; else empty.

    ``blocks`` gives those of one batch, or of all; ``traced`` are the facts that tell of a trace,
    each after its batch, of all that there are up to ``until``; ``lost`` the batches of which facts
    are gone, and with them perhaps what told of their trace.

    Where a fact tells how many readings a trace has, the numbers that stand beside its blocks are
    added up: to unpack each block takes twice the time of all else. Two of them that were altered
    to the same sum are not seen; nothing is shown from them.
    """

    def may_be_untold(batch: int) -> bool:  # of one that is not over a later fact will tell
        return batch in lost or db.execute(_ON, (batch, batch, until)).fetchone() == (1,)

    untold = _upon_each_other(blocks(None), traced)
    if untold is not None and all(map(may_be_untold, untold)):
        of_these = (one for batch in untold for one in blocks(batch))
        if all(count(block) == held for _, block, _, _, _, held in of_these):
            return ""
    return _first_bad(blocks(None), traced, may_be_untold, until)


def _upon_each_other(
    blocks: Iterable[Block], traced: Sequence[tuple[int, bytes]]
) -> Iterable[int] | None:
    """The batches of whose traces no fact tells; None where a block may not be upon the one
    before it, or a fact may tell of another trace."""
    heads: dict[int, bytes] = {}
    readings: dict[int, int] = {}
    of, on, start, prev, held = 0, "", b"", GENESIS, 0
    for boot, block, hash_, batch, _, more in blocks:
        if batch != of or boot != on:
            heads[of], readings[of] = prev, held
            if type(batch) is not int or batch == 0 or type(boot) is not str:
                return None
            prev, held = heads.get(batch, GENESIS), readings.get(batch, 0)
            of, on, start = batch, boot, before_block(batch, boot)
        if sha256(prev + start + block).digest() != hash_ or type(more) is not int:
            return None
        prev = hash_
        held += more
    heads[of], readings[of] = prev, held
    untold = heads.keys() - {0}
    for batch, canonical in traced:
        told = _TRACED % (heads.get(batch, GENESIS).hex().encode(), readings.get(batch, 0))
        if told not in canonical:
            return None
        untold.discard(batch)
    return untold


def _first_bad(
    blocks: Iterable[Block],
    traced: Sequence[tuple[int, bytes]],
    may_be_untold: Callable[[int], bool],
    until: int,
) -> str:
    """As :func:`bad_trace`, and each block counted."""
    heads: dict[int, bytes] = {}
    readings: Counter[int] = Counter()
    for boot, block, hash_, batch, number, held in blocks:
        if not isinstance(batch, int):
            return f"Block {number} of the weight traces is not as it was: it is of no batch."
        here = sealed(heads.get(batch, GENESIS), batch, boot, block)
        if here != hash_ or count(block) != held:
            return f"Block {number} of the weight trace of batch {batch} is not as it was."
        heads[batch] = here
        readings[batch] += held
    untold = dict.fromkeys(heads)
    for _, canonical in traced:
        seq, entry = read(canonical)
        due = entry.data.get("hash"), entry.data.get("readings")
        if due != (heads.get(entry.batch, GENESIS).hex(), readings[entry.batch]):
            return f"The weight trace of batch {entry.batch} is not what fact {seq} says of it."
        untold.pop(entry.batch, None)
    for batch in untold:
        if not may_be_untold(batch):
            return (
                f"No fact tells of the weight trace of batch {batch}: facts were cut off from the "
                f"end, from fact {until + 1} on, or the trace was put in."
            )
    return ""
