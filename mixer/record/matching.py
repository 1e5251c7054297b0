"""Whether what stands beside the facts is what they say: what finds them, and the traces.

Asked of a record whose chain is whole. It only reads.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Container, Iterable, Sequence
from pathlib import Path
from typing import Any

from mixer.record import newest, projection, schema
from mixer.record.envelope import GENESIS, Entry
from mixer.record.trace import count, sealed

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
    blocks: Iterable[Sequence[Any]],
    told: Iterable[tuple[int, Entry]],
    until: int,
    lost: Container[int] = (),
) -> str:
    """A sentence on the first weight trace that is not as it was stored, or not what the
    facts say of it; else empty.

    ``blocks`` are boot, bytes, hash, batch, number and count of each; ``told`` the facts
    that tell of a trace, with their numbers, of all that there are up to ``until``; ``lost`` the
    batches of which facts are gone, and with them perhaps what told of their trace.
    """
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
    for seq, entry in told:
        due = entry.data.get("hash"), entry.data.get("readings")
        if due != (heads.get(entry.batch, GENESIS).hex(), readings[entry.batch]):
            return f"The weight trace of batch {entry.batch} is not what fact {seq} says of it."
        untold.pop(entry.batch, None)
    for batch in untold:  # of one that is not over a later fact will tell
        if batch not in lost and db.execute(_ON, (batch, batch, until)).fetchone() != (1,):
            return f"No fact tells of the weight trace of batch {batch}: it was put in."
    return ""
