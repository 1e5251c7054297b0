"""Whether a record is as it was stored: the look through its chain, its log and its traces.

What was lost with a damaged file and is named by a fact since (``mended``) keeps a record
from being whole for good; what was done to it besides is looked for all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any, cast

from mixer.record import chain, log, matching
from mixer.record.envelope import RecordError, read
from mixer.record.holes import Named
from mixer.record.mending import KIND, told
from mixer.record.reader import Reader
from mixer.record.stored import as_bytes


def verify(record: Reader, head: bytes | None) -> chain.Finding:
    """As :meth:`mixer.record.reader.Reader.verify`; where something is amiss, with what is
    known to have been lost."""
    found = _look_through(record, head)
    return found if found.ok else replace(found, say=" ".join([found.say, *mended(record)]))


def mended(record: Reader) -> list[str]:
    """What was lost when damaged files were carried over, in a sentence each."""
    return [told(data) for _, data in _mended(record)]


def _mended(record: Reader) -> list[tuple[int, dict[str, Any]]]:
    """The facts that tell of it: the number and the data of each, as far as they can be read."""
    select = "SELECT seq, bytes FROM facts WHERE batch = 0 AND kind = ? ORDER BY seq"
    found: list[tuple[int, dict[str, Any]]] = []
    with suppress(RecordError), record._said():
        for seq, canonical in record._db.execute(select, [KIND]).fetchall():
            with suppress(RecordError):
                found.append((seq, read(as_bytes(canonical))[1].data))
    return found


@dataclass(frozen=True, slots=True)
class Lost:
    """``facts`` are the holes that are named, ``batches`` those of which facts, ``weighed`` those
    of which weights are gone."""

    facts: tuple[Named, ...]
    batches: frozenset[int]
    weighed: frozenset[int]


def lost(record: Reader) -> Lost:
    """What its facts name as lost from it."""
    facts: list[Named] = []
    batches: set[int] = set()
    weighed: set[int] = set()
    for seq, data in _mended(record):
        try:
            upon = map(bytes.fromhex, data.get("upon", ()))
            for (first, last), before in zip_longest(data["facts"], upon):
                last = seq - 1 if last is None else last
                if type(first) is type(last) is int and 0 < first <= last < seq:
                    facts.append(Named(first, last, seq, before))
            batches |= {one["batch"] for one in data["batches"]}
            weighed |= set(data["traces"])
        except (KeyError, TypeError, ValueError):  # of another program
            continue
    return Lost(tuple(facts), frozenset(batches), frozenset(weighed))


def _look_through(record: Reader, head: bytes | None) -> chain.Finding:
    traced: list[tuple[int, bytes]] = []  # by batch, what its facts say of the weight traces

    def seen() -> Iterator[Sequence[chain.Row]]:
        for rows in record._several("", []):
            traced.extend(
                [(cast(int, row[4]), as_bytes(row[1])) for row in rows if row[5] == b"traced"]
            )
            yield rows

    gone = lost(record)
    found = chain.follow(seen(), head, lambda: (*gone.facts, *_missing(record)))
    if found.bad is not None and record.newer:
        say = f"From fact {found.bad} on this program cannot judge it. {record.newer}"
        return replace(found, ok=False, say=say)
    missing = record.missing
    beyond = missing is not None and found.bad in missing.altered and found.bad > record._sound
    if record.torn and (found.bad is None or missing is None or beyond):
        first = missing.first if missing is not None else None
        return replace(found, ok=False, say=record.torn, lost=False, bad=first)
    if found.bad is not None:
        damage = record.torn or _damage(record)
        found = replace(found, say=f"{found.say} {damage}".strip())
    if amiss := log.amiss(record.path, found.facts):
        say = amiss if found.ok else f"{found.say} {amiss}"
        return replace(found, ok=False, say=say, lost=False)
    if not (found.ok or found.lost):
        return found
    if not record.knows_traces():
        return replace(found, say=f"{found.say} Its weight traces this program cannot judge.")
    if bad := _bad_trace(record, traced, found.facts, gone):
        return replace(found, ok=False, say=bad, lost=False)
    if gone.weighed:
        return replace(found, ok=False, lost=True)
    return found


def _missing(record: Reader) -> Iterator[Named]:
    """The holes of a torn record, as if a fact named them: it is looked through behind them. One
    in a part where nothing is damaged is none of these: somebody took facts out."""
    for first, last in record.missing.facts if record.missing is not None else ():
        if first > record._sound:
            yield Named(first, first if last is None else last, 0)


def _damage(record: Reader) -> str:
    """A sentence where the file is no longer laid out as one: a hand that takes facts out by
    way of SQLite leaves it whole."""
    try:
        with record._said():
            (sound,) = record._db.execute("PRAGMA integrity_check(1)").fetchone()
    except RecordError:
        sound = ""
    if sound == "ok":
        return ""
    return (
        f"The file {record.path} itself is damaged, which may be why: record rebuild carries what "
        "can be read of it over to a new one."
    )


def _bad_trace(record: Reader, traced: Sequence[tuple[int, bytes]], until: int, gone: Lost) -> str:
    def blocks(batch: int | None) -> Iterator[matching.Block]:
        of = record._blocks(batch)
        return (one for one in of if one[3] not in gone.weighed) if gone.weighed else of

    try:
        with record._said():
            told = [one for one in traced if one[0] not in gone.weighed]
            return matching.bad_trace(record._db, blocks, told, until, gone.batches)
    except RecordError:
        return (
            f"The weight traces in {record.path}, or what finds them, are damaged; the facts are "
            "whole: keep a copy, then try record rebuild."
        )
