"""Holes in the numbers of the facts: those that a later fact names as lost, and no other.

Pure. A damaged record is carried over to a new file, and a fact (``mended``) names what was
lost (see :mod:`mixer.record.mending`). Its hole is gone past; one that nothing names, that is
wider than what is named, or in which something stands again, is a breach like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

#: The first and the last number of facts that are named as lost, and that of the fact that
#: names them, which is after them.
Named = tuple[int, int, int]


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
        return any(first <= due <= last for first, last, _ in self._named)

    def amiss(self, due: int, seq: int, is_upon: bool) -> int | None:
        """The first fact that is not as the hole from ``due`` to before ``seq`` is named; None
        where none is, and then it is gone past. ``is_upon``: the fact behind it was stored upon
        the one that stands before it.

        >>> holes = Holes(lambda: [(4, 5, 9), (6, 6, 12)])
        >>> [holes.begins(4, 7), holes.amiss(4, 7, False), holes.found]
        [True, None, [(4, 6)]]
        >>> [holes.amiss(4, 8, False), holes.amiss(5, 7, False), holes.amiss(4, 6, False)]
        [7, 4, 6]
        """
        named = sorted(self._named or ())
        first = last = due
        for low, high, _ in [*named, *reversed(named)]:  # those that touch are one
            if low <= last + 1 and high >= first - 1:
                first, last = min(first, low), max(last, high)
        if first < due:
            return first
        if last != seq - 1:
            return min(last + 1, seq)
        if (due, last, seq) in named and not is_upon:  # it was stored upon what is left
            return due
        self.found.append((due, last))
        return None

    def told(self) -> str:
        """Those gone past, in words.

        >>> holes = Holes(lambda: [(4, 6, 9), (8, 8, 9)])
        >>> [holes.begins(at, at + 9) and holes.amiss(at, to, True) for at, to in ((4, 7), (8, 9))]
        [None, None]
        >>> holes.told()
        'facts 4 to 6, 8'
        """
        gone = [str(a) if a == b else f"{a} to {b}" for a, b in self.found]
        one = len(gone) == 1 and "to" not in gone[0]
        return f"{'fact' if one else 'facts'} {', '.join(gone)}"
