"""What truly is in the cups of killed pours, and where the record says what is not so."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise

from mixer.record.envelope import Entry
from mixer.record.views import batch_rows

Order = tuple[str, str]  # which resin, and how much of it: "60g"


class Truth:
    """What is known of each batch of one bench, beside what its record says.

    A verdict speaks of the mix that was weighed: once it is stirred nothing is weighed, and
    what then becomes of the cup changes nothing of it. A batch that was cut off is ended where
    something else is asked for; by a program that asks for the same it is carried on.
    """

    def __init__(self) -> None:
        self.ratio: dict[int, float] = {}  # hardener for resin in the cup of each batch
        self._stirred: set[int] = set()
        self._settled: set[int] = set()  # of what is in their cups nothing more is learned
        self._ended_by: dict[int, Order] = {}  # what the program asked for that ended each

    def other_cup(self) -> None:
        """The cup was exchanged, or taken away for good."""
        self._settled |= self._stirred

    def untrue(self, entries: Iterable[Entry], order: Order, ratio: float) -> Iterator[str]:
        """What is not so in these facts of a record, as a program left it that asked for
        ``order``, with so much hardener for resin in the cup of its newest batch."""
        entries = list(entries)
        rows = batch_rows(entries)
        self._stirred |= {entry.batch for entry in entries if entry.kind == "stirring"}
        if rows and rows[-1].batch not in self._settled and rows[-1].outcome in ("open", "live"):
            self.ratio[rows[-1].batch] = ratio
        for row in rows:
            if row.outcome != "open":
                self._settled.add(row.batch)
                self._ended_by.setdefault(row.batch, order)
            if row.verdict == "in-band":
                off = self.ratio[row.batch] / (row.ratio_target or 1) * 100 - 1
                if abs(off) > row.opened["recipe"]["ratio_tolerance"]:
                    yield f"batch {row.batch} was called in band, and is truly {off:+.1%}"
            asked = row.about("resin_system"), f"{(row.about('size_ug') or 0) / 1e6:g}g"
            given_up = row.outcome == "abandoned" and row.tare_ug
            if given_up and self._ended_by[row.batch] == asked:
                yield f"batch {row.batch} could be carried on, and was not"
        for row, _ in pairwise(rows):
            if row.outcome not in ("live", "abandoned"):
                yield f"batch {row.batch} was left {row.outcome}"
