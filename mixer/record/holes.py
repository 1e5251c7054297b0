"""Holes in the numbers of the facts: those that a later fact names as lost, and no other.

Pure. A damaged record is carried over to a new file, and a fact (``mended``) names what was
lost (see :mod:`mixer.record.mending`). Its hole is gone past; one that nothing names, that is
wider than what is named, or in which something stands again, is a breach like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple


class Named(NamedTuple):
    """The first and the last number of facts that are named as lost, that of the fact that
    names them, which is after them, and the hash of the one that then stood before them (None:
    it is not told, in records from before it was)."""

    first: int
    last: int
    by: int
    upon: bytes | None = None


class Holes:
    """``named`` is asked once, where there is a hole; ``found`` are those gone past."""

    def __init__(self, named: Callable[[], Iterable[Named]]) -> None:
        self._ask = named
        self._named: Sequence[Named] | None = None
        self.found: list[tuple[int, int]] = []

    def begins(self, due: int, seq: object) -> bool:
        """Whether a hole that is named begins with the fact that is due, where this one is."""
        if not isinstance(seq, int) or seq <= due:
            return False
        if self._named is None:
            self._named = list(self._ask())
        return any(one.first <= due <= one.last for one in self._named)

    def amiss(self, due: int, seq: int, stands: bytes, upon: object) -> int | None:
        """The first fact that is not as the hole from ``due`` to before ``seq`` is named; None
        where none is, and then it is gone past. ``stands`` is the hash of the one before it,
        ``upon`` the hash that the one behind it was stored upon.

        >>> holes = Holes(lambda: [Named(4, 5, 9), Named(6, 6, 12, b"A")])
        >>> [holes.begins(4, 7), holes.amiss(4, 7, b"A", b"F"), holes.found]
        [True, None, [(4, 6)]]
        >>> [holes.amiss(4, 8, b"A", b"F"), holes.amiss(5, 7, b"A", b"F")]
        [7, 4]
        >>> [holes.amiss(6, 7, b"B", b"F"), holes.amiss(4, 6, b"A", b"F")]
        [4, 6]
        """
        named = sorted(self._named or (), key=lambda one: one[:3])
        first = last = due
        for one in [*named, *reversed(named)]:  # those that touch are one
            if one.first <= last + 1 and one.last >= first - 1:
                first, last = min(first, one.first), max(last, one.last)
        if first < due:
            return first
        if last != seq - 1:
            return min(last + 1, seq)
        if any(one.first == due and one.upon not in (None, stands) for one in named):
            return due - 1
        at_the_end = any(one[:3] == (due, last, seq) for one in named)
        if at_the_end and upon != stands:  # it was stored upon what is left
            return due
        self.found.append((due, last))
        return None

    def told(self) -> str:
        """Those gone past, in words.

        >>> holes = Holes(lambda: [Named(4, 6, 9), Named(8, 8, 9)])
        >>> [holes.begins(n, 10) and holes.amiss(n, to, b"", b"") for n, to in ((4, 7), (8, 9))]
        [None, None]
        >>> holes.told()
        'facts 4 to 6, 8'
        """
        gone = [str(a) if a == b else f"{a} to {b}" for a, b in self.found]
        one = len(gone) == 1 and "to" not in gone[0]
        return f"{'fact' if one else 'facts'} {', '.join(gone)}"
