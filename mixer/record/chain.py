"""The chain through the stored facts: which row is the first that is not as it was stored.

Pure. It finds a fact that was altered, removed, moved or put in. From inside the chain
nobody can see that the last facts were cut off, or that all of it was written anew: for
that the head, the hash of the newest fact, must have been kept elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from hashlib import sha256

from mixer.record.envelope import GENESIS, RecordError, read

#: seq, bytes, the hash before it, hash, batch, kind
Row = tuple[object, object, object, object, object, object]


@dataclass(frozen=True, slots=True)
class Finding:
    """What a look through a record found. ``facts`` and ``head`` are the number of facts
    that are as they were stored, from the first on, and the hash of the last of them;
    ``bad`` is the number of the first that is not. ``say`` is one sentence."""

    ok: bool
    say: str
    facts: int
    head: bytes
    bad: int | None = None


def follow(rows: Iterable[Row], head: bytes | None = None) -> Finding:
    """Go through the rows in the order of seq; ``head`` is to be the hash of one of them.

    >>> follow([(1, b"{}", GENESIS, sha256(GENESIS + b"{}").digest(), 0, "noted")]).say
    'Fact 1 is not as it was stored: facts were altered, removed, moved or put in.'
    >>> follow([]).say
    'No facts are in the record.'
    """
    prev, due, seen = GENESIS, 1, head is None or head == GENESIS
    for seq, canonical, before, hash_, batch, kind in rows:
        if seq != due:
            bad = min(seq, due) if isinstance(seq, int) else due
            return _broken(bad, due - 1, prev)
        if not isinstance(canonical, bytes) or before != prev:
            return _broken(due, due - 1, prev)
        here = sha256(prev + canonical).digest()
        if here != hash_ or not _stands_in(canonical, due, batch, kind):
            return _broken(due, due - 1, prev)
        seen = seen or here == head
        prev, due = here, due + 1
    facts = due - 1
    if not seen:
        say = (
            f"No fact of the record has the head {head.hex() if head else ''}: facts were cut off "
            f"from its end, or all of it was written anew. It holds {facts}, head {prev.hex()}."
        )
        return Finding(False, say, facts, prev)
    if not facts:
        return Finding(True, "No facts are in the record.", 0, prev)
    count = "1 fact" if facts == 1 else f"{facts} facts"
    say = f"The chain is whole: {count}, head {prev.hex()}."
    return Finding(True, say, facts, prev)


def _broken(bad: int, facts: int, head: bytes) -> Finding:
    say = f"Fact {bad} is not as it was stored: facts were altered, removed, moved or put in."
    return Finding(False, say, facts, head, bad)


def _stands_in(canonical: bytes, seq: int, batch: object, kind: object) -> bool:
    """Whether the bytes name this place, batch and kind.

    The quick look knows the order of keys in canonical JSON, and that no text can hold
    a quotation mark which is not escaped; what it does not find is looked at closely.
    """
    quick = (
        f',"batch":{batch},"boot":"'.encode() in canonical[:72]
        and f',"kind":"{kind}","seq":{seq},"station":"'.encode() in canonical[-160:]
        and canonical.endswith(b'","v":1}')
    )
    if quick:
        return True
    try:
        told, entry = read(canonical)
    except RecordError:
        return False
    return told == seq and entry.batch == batch and entry.kind == kind
