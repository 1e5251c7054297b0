"""The chain through the stored facts: which row is the first that is not as it was stored.

Pure. It finds a fact that was altered, removed, moved or put in. From inside the chain
nobody can see that the last facts were cut off, or that all of it was written anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from mixer.record.envelope import GENESIS, Entry, RecordError, chained, unseal


def columns(entry: Entry) -> tuple[int, str, str, int, str]:
    """What stands beside the bytes so that facts are found quickly."""
    return entry.batch, entry.kind, entry.utc, entry.at_ms, entry.boot


def first_bad(rows: Iterable[tuple[Any, ...]]) -> int | None:
    """The number of the first of these rows that breaks the chain; None if it is whole.

    Each row is (seq, bytes, hash, batch, kind, utc, at_ms, boot), in the order of seq.
    A missing row is named by its own number.

    >>> first_bad([(1, b"{}", chained(GENESIS, b"{}"), 0, "noted", "", 0, "")])
    1
    """
    prev, due = GENESIS, 1
    for seq, canonical, hash_, *beside in rows:
        if seq != due:
            return int(min(seq, due))
        if not isinstance(canonical, bytes) or hash_ != chained(prev, canonical):
            return due
        try:
            told, entry = unseal(canonical)
        except RecordError:
            return due
        if told != seq or tuple(beside) != columns(entry):
            return due
        prev, due = hash_, due + 1
    return None
