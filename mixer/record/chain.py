"""The chain through the stored facts: which row is the first that is not as it was stored.

Pure. It finds a fact that was altered, removed, moved or put in. From inside the chain
nobody can see that the last facts were cut off, or that all of it was written anew: for
that the head, the hash of the newest fact, must have been kept elsewhere. Past facts that
were lost with a damaged part of the file, and that a later fact names, it goes on: that fact
has the hash of what stood before the hole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import pairwise, repeat
from typing import cast

from mixer.record.envelope import GENESIS, VERSION, RecordError, read
from mixer.record.holes import Holes, Named

#: seq, bytes, the hash before it, hash, batch, the bytes of its kind
Row = tuple[object, object, object, object, object, object]

_KIND = b',"kind":"'
_PLACE = b',"kind":"%b","seq":%d,"station":"'
_END = b',"v":%d}' % VERSION
_STATION = b',"station":"'
#: The length of a fact's time and of what stands behind it: a place that ends so near to the end
#: is the fact's own, and none within its data, which has its own behind it.
_WHEN = len(b'2024-05-01T08:00:00.000Z"') + len(_END)


@dataclass(frozen=True, slots=True)
class Finding:
    """What a look through a record found. ``facts`` and ``head`` are the number of facts
    that are as they were stored, from the first on, and the hash of the last of them;
    ``bad`` is the number of the first that is not. ``lost``: all that is there is as it was
    stored, but some is not there, and a fact names it. ``say`` is one sentence."""

    ok: bool
    say: str
    facts: int
    head: bytes
    bad: int | None = None
    lost: bool = False


def follow(
    rows: Iterable[Sequence[Row]],
    head: bytes | None = None,
    named: Callable[[], Iterable[Named]] = tuple,
) -> Finding:
    """Go through the rows in the order of seq; ``head`` is to be the hash of one of them.
    ``named`` is asked where there is a hole in their numbers.

    >>> follow([[(1, b"{}", GENESIS, sha256(GENESIS + b"{}").digest(), 0, b"noted")]]).say
    'Fact 1 is not as it was stored: facts were altered, removed, moved or put in.'
    >>> follow([]).say
    'No facts are in the record.'
    """
    prev, due, found = GENESIS, 1, 0 if head == GENESIS else None
    older, holes = prev, Holes(named)
    chunks = iter(rows)
    unnumbered: int | None = None  # no fact's number: it is put in, where none is missing
    for several in chunks:
        while several:
            first = several[0][0]
            if isinstance(first, int) and first < 1:
                unnumbered, several = first, several[1:]
                continue
            hashes = _whole(several, due, prev)
            if hashes is None:  # slowly, to name the first, or to find that all is well
                hashes = []
                for row in several:
                    here = _follows(row, due + len(hashes), hashes[-1] if hashes else prev)
                    if here is None:
                        break
                    hashes.append(here)
            if head in hashes:
                found = due + hashes.index(head)
            due += len(hashes)
            older, prev = [older, prev, *hashes][-2:]
            several = several[len(hashes) :]
            if not several:
                break
            row = several[0]
            seq, before = row[0], row[2]
            if holes.begins(due, seq):
                number = cast(int, seq)
                bad = holes.amiss(due, number, prev, before)
                if bad is None and not _fits_another(row, number):
                    bad = number
                if bad is not None:
                    return _broken(bad, min(due, bad) - 1, older if bad < due else prev)
                if head == before:  # that of the last of the lost
                    found = number - 1
                due, older, prev = number, cast(bytes, before), cast(bytes, before)
                continue
            # The one before is forged with its hash, or was put in with it; this is no copy of it.
            put_in = before == older and row[3] != prev
            forged = _fits_another(row, due) and _is_gone_on_from(row, several, chunks)
            if due > 1 and (put_in or forged):
                return _broken(due - 1, due - 2, older)
            return _broken(min(seq, due) if isinstance(seq, int) else due, due - 1, prev)
    if unnumbered is not None:
        return _broken(unnumbered, due - 1, prev)
    missed = "" if head is None or found is not None else head.hex()
    whole = _gone_through(due - 1, prev, missed, holes)
    return whole if found is None else replace(whole, say=f"{whole.say} {_since(found, due - 1)}")


def _since(given: int, newest: int) -> str:
    """Which fact has the head that was given, and what came since.

    >>> _since(3, 4)
    'The head given is that of fact 3; 1 fact came since.'
    """
    of = f"fact {given}" if given else "an empty record"
    if given == newest:
        return f"The head given is that of {'its newest fact' if given else of}."
    came = newest - given
    return f"The head given is that of {of}; {came} {'fact' if came == 1 else 'facts'} came since."


def _gone_through(facts: int, newest: bytes, missed: str, holes: Holes) -> Finding:
    """No fact that is there is another than was stored; ``missed``: a head that none has."""
    held = "1 fact" if facts == 1 else f"{facts} facts"
    if missed:
        lost, here = "", f"It holds {held}"
        if holes.found:
            lost = f", or it was that of one of the lost {holes.told()}"
            here = f"Its newest is fact {facts}"
        say = (
            f"No fact of the record has the head {missed}: facts were cut off from its end, or all "
            f"of it was written anew{lost}. {here}, head {newest.hex()}."
        )
        return Finding(False, say, facts, newest)
    if holes.found:
        say = (
            f"All that is there is as it was stored; not there: {holes.told()}. The newest is fact "
            f"{facts}, head {newest.hex()}."
        )
        return Finding(False, say, facts, newest, lost=True)
    if not facts:
        return Finding(True, "No facts are in the record.", 0, newest)
    return Finding(True, f"The chain is whole: {held}, head {newest.hex()}.", facts, newest)


def altered(rows: Iterable[Row]) -> int | None:
    """The first of these facts, which need not be all, that is not as it was stored, as far
    as they tell of one another; None where none is.

    >>> altered([(3, b"{}", GENESIS, sha256(GENESIS + b"{}").digest(), 0, b"noted")])
    3
    """
    last: tuple[int, bytes] | None = None
    for row in rows:
        seq, _, before, hash_, *_ = row
        number = seq if isinstance(seq, int) else 0
        if last is not None and number == last[0] + 1 and before != last[1]:
            return last[0]  # it is forged, with its hash
        if not isinstance(hash_, bytes) or not _fits_another(row, number):
            return number
        last = number, hash_
    return None


def gapless(rows: Sequence[Row], batch: int) -> bool:
    """Whether each of these facts is upon the one before it, and none that stands under
    another batch says of itself that it is of this one.

    >>> one, two = (1, b"", b"", b"A", 7, b"noted"), (3, b"", b"A", b"B", 7, b"noted")
    >>> gapless([one, two], 7), gapless([one, (2, *two[1:])], 7)
    (False, True)
    """
    start = b',"batch":%d,"boot":"' % batch
    for (seq, _, _, hash_, *_), (after, _, before, *_) in pairwise(rows):
        if not isinstance(seq, int) or after != seq + 1 or before != hash_:
            return False
    return not any(
        isinstance(canonical, bytes) and start in canonical[:50]
        for _, canonical, _, _, of, _ in rows
        if of != batch
    )


def _broken(bad: int, facts: int, head: bytes) -> Finding:
    say = f"Fact {bad} is not as it was stored: facts were altered, removed, moved or put in."
    return Finding(False, say, facts, head, bad)


def _whole(rows: Sequence[Row], due: int, prev: bytes) -> Sequence[bytes] | None:
    """The hashes of rows that are surely as they were stored; None where they may not be.

    It knows the order of keys in canonical JSON, and that no text can hold a quotation
    mark which is not escaped; of what else a fact says nothing is read but in the last one. A
    plain select and a chained hash are most of its time.
    """
    if not rows:
        return ()
    seqs, facts, befores, hashes, batches, kinds = zip(*rows, strict=True)
    if seqs != tuple(range(due, due + len(rows))) or befores != (prev, *hashes[:-1]):
        return None
    try:
        if hashes != tuple([sha256(b + f).digest() for b, f in zip(befores, facts, strict=True)]):
            return None
        starts = {batch: b',"batch":%d,"boot":"' % batch for batch in set(batches)}
        due_starts = map(starts.__getitem__, batches)
        if -1 in map(bytes.find, facts, due_starts, repeat(0), repeat(50)):
            return None
        if not _tell(facts, kinds, seqs):
            return None
        if not all(map(bytes.endswith, facts, repeat(_END))):
            return None
        if _follows(rows[-1], seqs[-1], befores[-1]) is None:
            return None
    except (AttributeError, TypeError):  # a value of another type than was stored
        return None
    return hashes


def _tell(facts: Sequence[bytes], kinds: Sequence[bytes], seqs: Sequence[int]) -> bool:
    """Whether each of these facts tells its kind and its number, behind all its data."""
    if _KIND not in b"".join(kinds):  # else one could begin within the data
        # Most are of one station, and tell it so far from their end: they are not searched.
        last = facts[-1]
        station = last[last.rfind(_STATION) + len(_STATION) : -_WHEN]
        place = _PLACE + station.replace(b"%", b"%%")
        places = map(place.__mod__, zip(kinds, seqs, strict=True))
        if all(map(bytes.endswith, facts, places, repeat(0), repeat(-_WHEN))):
            return True
    places = map(_PLACE.__mod__, zip(kinds, seqs, strict=True))
    return all(map(bytes.startswith, facts, places, map(bytes.rfind, facts, repeat(_KIND))))


def _is_gone_on_from(row: Row, several: Sequence[Row], later: Iterator[Sequence[Row]]) -> bool:
    """Whether the fact after this one stands upon it: then it is no foreign one. Where there is
    none after it, or a hole, nobody can tell."""
    following = several[1:] or next(later, ())
    if not following:
        return True
    seq, after, before = row[0], following[0][0], following[0][2]
    is_next = isinstance(seq, int) and after == seq + 1
    return not is_next or before == row[3]


def _fits_another(row: Row, due: int) -> bool:
    """Whether this is the fact that is due, as it was stored, but upon another before it."""
    before = row[2]
    return isinstance(before, bytes) and _follows(row, due, before) is not None


def _follows(row: Row, due: int, prev: bytes) -> bytes | None:
    """The hash of this row if it is the one that is due, else None."""
    seq, canonical, before, hash_, batch, kind = row
    if seq != due or not isinstance(canonical, bytes) or before != prev:
        return None
    here = sha256(prev + canonical).digest()
    try:
        told, entry = read(canonical)
    except RecordError:
        return None
    stands = told == due and entry.batch == batch and entry.kind.encode() == kind
    return here if here == hash_ and stands else None
