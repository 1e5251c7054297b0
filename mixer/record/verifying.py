"""Whether a record is as it was stored: the look through its chain, its log and its traces."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from mixer.record import chain, log, matching
from mixer.record.envelope import RecordError, read
from mixer.record.mending import KIND, told
from mixer.record.reader import Reader, as_bytes


def verify(record: Reader, head: bytes | None) -> chain.Finding:
    """As :meth:`mixer.record.reader.Reader.verify`; where something is amiss, with what is
    known to have been lost."""
    found = _look_through(record, head)
    return found if found.ok else replace(found, say=" ".join([found.say, *mended(record)]))


def mended(record: Reader) -> list[str]:
    """What was lost when damaged files were carried over, in a sentence each."""
    select = "SELECT bytes FROM facts WHERE batch = 0 AND kind = ? ORDER BY seq"
    try:
        with record._said():
            rows = record._db.execute(select, [KIND]).fetchall()
        return [told(read(as_bytes(canonical))[1].data) for (canonical,) in rows]
    except RecordError:
        return []


def _look_through(record: Reader, head: bytes | None) -> chain.Finding:
    traced: list[bytes] = []  # what its facts say of the weight traces

    def seen() -> Iterator[Sequence[chain.Row]]:
        for rows in record._several("", []):
            traced.extend([as_bytes(row[1]) for row in rows if row[5] == b"traced"])
            yield rows

    found = chain.follow(seen(), head)
    if found.bad is not None and record.newer:
        say = f"From fact {found.bad} on this program cannot judge it. {record.newer}"
        return replace(found, ok=False, say=say)
    if record.torn:
        return replace(found, ok=False, say=record.torn)
    if lost := log.amiss(record.path, found.facts):
        say = lost if found.ok else f"{found.say} {lost}"
        return replace(found, ok=False, say=say)
    if found.ok and not record.knows_traces():
        return replace(found, say=f"{found.say} Its weight traces this program cannot judge.")
    bad = _bad_trace(record, traced, found.facts) if found.ok else ""
    return replace(found, ok=False, say=bad) if bad else found


def _bad_trace(record: Reader, traced: Sequence[bytes], until: int) -> str:
    try:
        with record._said():
            told_of = map(read, traced)
            return matching.bad_trace(record._db, record._blocks(None), told_of, until)
    except RecordError:
        return (
            f"The weight traces in {record.path}, or what finds them, are damaged; the facts are "
            "whole: keep a copy, then try record rebuild."
        )
