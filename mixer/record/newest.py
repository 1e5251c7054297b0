"""Whether the newest facts are still there, as far as that costs next to nothing to see.

Where a damaged page has lost them and their numbers were given again, two facts would have one
number, and what was lost could never be told from what came since. So it is asked before a
record is written to. It only reads, and a few rows: damage further back is for `verify`.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from mixer.record.trouble import is_damage

_NEAR = 64  # of the newest batches
#: The highest number that what finds the facts knows, of these batches, of those that are not
#: over, and of those facts that are of none: a new fact is mostly of one of them.
_KNOWN = (
    "SELECT max((SELECT seq FROM facts INDEXED BY facts_by_batch"
    " WHERE batch = near.batch ORDER BY seq DESC LIMIT 1)) FROM (SELECT 0 AS batch"
    f" UNION SELECT batch FROM (SELECT batch FROM batches ORDER BY batch DESC LIMIT {_NEAR})"
    " UNION SELECT batch FROM batches WHERE outcome IN ('live', 'open')) AS near"
)
_THERE = "SELECT seq, batch, bytes, prev, hash FROM facts ORDER BY seq DESC LIMIT 1"
_FOUND = "SELECT max(seq) FROM facts INDEXED BY facts_by_batch WHERE batch = ? AND seq >= ?"


def amiss(db: sqlite3.Connection, path: Path) -> str:
    """A sentence where what finds the facts knows of a newer one than can be read, or not of
    that one; else empty. Where it cannot be read itself it tells nothing, and no fact is the
    less for it. Raises what SQLite says where the newest fact cannot be read."""
    there, batch, *_ = db.execute(_THERE).fetchone() or (0, 0)
    try:
        (known,) = db.execute(_KNOWN).fetchone()
        (found,) = db.execute(_FOUND, (batch, there)).fetchone()
    except sqlite3.DatabaseError as err:
        if not is_damage(err):
            raise
        return ""
    if found == (there or None) and (known is None or known <= there):
        return ""
    told = "does not know of it" if known is None or known <= there else f"knows of fact {known}"
    return (
        f"The record {path} is damaged: the newest fact that can be read is fact {there}, and what "
        f"finds its facts {told}; record rebuild carries what can be read over to a new file."
    )
