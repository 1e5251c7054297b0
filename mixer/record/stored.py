"""Facts as they are found in the file: read where they can be, and told where not.

Pure. A fact that was altered or torn must not hide the others: who looks at a record
sees all that can be read of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from mixer.record.chain import Row
from mixer.record.envelope import Entry, RecordError, read


@dataclass(frozen=True, slots=True)
class Stored:
    """A fact in its place; ``entry`` is None where it cannot be read, and ``say`` why."""

    seq: int
    hash: bytes
    entry: Entry | None
    say: str = ""


def stored(rows: Iterable[Row]) -> Iterator[Stored]:
    """The facts in these rows, in their order.

    >>> [fact.say for fact in stored([(1, b"[]", b"", b"", 0, b"noted")])]
    ['These bytes are no fact: an object with keys and values is needed.']
    """
    for seq, canonical, _, hash_, *_ in rows:
        place = seq if isinstance(seq, int) else 0
        proof = hash_ if isinstance(hash_, bytes) else b""
        try:
            data = canonical if isinstance(canonical, bytes) else str(canonical).encode()
            yield Stored(place, proof, read(data)[1])
        except RecordError as err:
            yield Stored(place, proof, None, err.say)
