"""Facts as they are found in the file: read where they can be, and told where not.

Pure. A fact that was altered or torn must not hide the others: who looks at a record
sees all that can be read of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from mixer.record.chain import Row
from mixer.record.envelope import Entry, RecordError, read
from mixer.record.row import Moment

#: When a fact became true, in its bytes: the keys are in their order (RFC 8785).
_WHEN = re.compile(rb'\{"at_ms":(\d{1,15}),"batch":\d+,"boot":"([^"\\]*)",')
_UTC = re.compile(rb',"utc":"([^"\\]*)","v":\d+\}\Z')


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


def moment(canonical: bytes) -> Moment | None:
    """When this fact became true, without a look at what else it says; None where that cannot
    be read.

    >>> moment(b'{"at_ms":5,"batch":7,"boot":"b1","data":{},"utc":"2024-05-01","v":1}')
    Moment(utc='2024-05-01', at_ms=5, boot='b1')
    """
    when, utc = (
        _WHEN.match(canonical),
        _UTC.match(canonical, max(0, canonical.rfind(b',"utc":"'))),
    )
    if when is None or utc is None:
        return None
    return Moment(
        utc[1].decode("utf-8", "replace"), int(when[1]), when[2].decode("utf-8", "replace")
    )


def as_bytes(value: object) -> bytes:
    """Of a value that may have been altered to another type."""
    return value if isinstance(value, bytes) else str(value).encode()
