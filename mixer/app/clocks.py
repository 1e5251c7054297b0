"""The clocks of the live cups: what is foretold of each, what corrects it, what is said of it.

Worked by the bench thread; what takes long is thought out beside it (:mod:`mixer.app.seer`).
What was foretold counts once it is in the record, and is asked for again only when something
new is known. Must never keep a batch from being poured, nor wait for an estimate.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from typing import Any

from mixer.app import picture
from mixer.app.clock import Clock
from mixer.app.foretelling import Question, answer, question
from mixer.app.ledger import STATION
from mixer.app.seer import Seer
from mixer.app.thickenings import drawn, seen_before
from mixer.app.use_up import lasts
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.views import BatchRow, LiveCup, batch_rows

RETRY_S = 30.0  # between two tries to keep what the record did not take
LAST_S = 2.0  # how long the end of the program waits for what is being thought out

CUP, LASTS = "cup", "lasts"


class Clocks:
    """``rings`` grows with each cue that is to be heard; ``lasts`` is what is said of the
    batch that is asked for; ``whys`` why nothing is asked of a live cup, by its batch."""

    def __init__(self, clock: Clock, deliver: Callable[[object], None]) -> None:
        self.rings = 0
        self.lasts = ""
        self.whys: dict[int, str] = {}
        self._clock, self._seer = clock, Seer(deliver)
        self._asked: dict[int, Question] = {}  # not answered yet, by batch
        self._told: list[tuple[int, dict[str, Any]]] = []  # not in the record yet
        self._failed: dict[int, Question] = {}  # not to be asked again and again
        self._try_at_s = 0.0
        self._followed: tuple[int, str] | None = None
        self._heard: dict[int, frozenset[str]] = {}

    # -- what is asked ---------------------------------------------------------------

    def follow(self, record: Reader, number: int, stage: str, stir_s: float) -> None:
        """The batch that is on: before the pour how long it should last, and once all is in
        the cup what its clock is to run against. Cheap where nothing is new."""
        what = CUP if stage == "stir" else LASTS
        if self._followed == (number, what) or stage not in ("cup", "pour", "stir"):
            return
        self._followed = (number, what)
        row = _row(record, number)
        if row is None:
            return
        if what == CUP:
            self._ask(row, question(row, row.contact, row.sum_ug() or 0))
            return
        size_ug = row.opened.get("size_ug")
        asked = question(row, None, size_ug if type(size_ug) is int else 0)
        self.lasts = ""
        if isinstance(asked, Question):
            self._seer.ask((LASTS, number, asked), partial(lasts, asked, stir_s))

    def look(self, cups: Iterable[LiveCup], *, anew: Sequence[int] = ()) -> None:
        """The live cups: ask about each of which nothing was foretold, or something else than
        is known now; of those of the batches ``anew`` whatever was foretold."""
        for cup in cups:
            asked = question(cup.row, cup.contact, cup.total_ug)
            self._ask(cup.row, asked, again=cup.batch in anew)

    def _ask(self, row: BatchRow, asked: Question | str, *, again: bool = False) -> None:
        if isinstance(asked, str):
            self.whys[row.batch] = asked
            return
        if self._failed.get(row.batch) == asked:
            return
        self.whys.pop(row.batch, None)
        if again or not (self._asked.get(row.batch) == asked or asked.is_answered_by(row.foretold)):
            self._asked[row.batch] = asked
            self._seer.ask((CUP, row.batch, asked), partial(answer, asked))

    # -- what was thought out ----------------------------------------------------------

    def collect(self, journal: Journal | None, *, on: bool) -> bool:
        """Take what was thought out, and keep it in the record; whether there is something new
        to show. ``on``: a batch is on, so that this program is the one writer."""
        news = False
        for (what, batch, asked), found in self._seer.take():
            if what == LASTS and self._followed == (batch, LASTS) and isinstance(found, str):
                self.lasts, news = found, True
            elif what == CUP and self._asked.get(batch) == asked:
                del self._asked[batch]
                if isinstance(found, dict):
                    self._told.append((batch, found))
                    self._try_at_s = 0.0
                else:
                    self._failed[batch] = asked
                    self.whys[batch], news = f"the estimate failed ({type(found).__name__})", True
        now_s = self._clock.age_s()
        if self._told and journal is not None and now_s >= self._try_at_s:
            self._try_at_s = now_s + RETRY_S
            with suppress(RecordError):
                self._keep(journal, on=on)
                news = True
        return news

    def finish(self, journal: Journal | None) -> None:
        """The end: keep what is being thought out of a cup, if it comes soon."""
        if self._asked:
            self._seer.wait(LAST_S)
        self._try_at_s = 0.0
        self.collect(journal, on=False)
        self._seer.close()

    def _keep(self, journal: Journal, *, on: bool) -> None:
        with _claimed(journal, on):
            entries = []
            for batch, found in self._told:
                row = _row(journal, batch)
                if row is not None:
                    data = drawn(found, seen_before(journal, row))
                    if row.foretold != data:
                        entries.append(self._entry("foretold", data, batch))
            journal.append(entries)
        self._told = []

    # -- what the builder says ----------------------------------------------------------

    def measured(
        self, journal: Journal, air_c: float, text: str, batches: Iterable[int], *, on: bool
    ) -> None:
        """The air is so warm now: of each of these batches a fact. Raises
        :class:`RecordError`."""
        data = {"air_c": air_c, "text": text}
        with _claimed(journal, on):
            journal.append([self._entry("measured", data, batch) for batch in batches])
        self._followed = None

    def thickens(
        self, journal: Journal, cup: LiveCup, age_s: float, others: Sequence[LiveCup], *, on: bool
    ) -> None:
        """The builder says that this cup thickens: a fact, and others of its resin are asked
        about anew. Raises :class:`RecordError`."""
        data = {"cup": cup.cup, "age_s": int(age_s), "model_s": cup.row.foretold.get("model_s")}
        with _claimed(journal, on):
            journal.append([self._entry("thickened", data, cup.batch)])
        self._followed = None
        self.look(others, anew=[o.batch for o in others if o.resin_system == cup.resin_system])

    def _entry(self, kind: str, data: dict[str, Any], batch: int) -> Entry:
        now = self._clock.now()
        return Entry(kind, data, now.at_ms, now.boot, now.utc, batch, STATION)

    # -- what is said --------------------------------------------------------------------

    def hear(self, cups: Sequence[picture.LiveCup]) -> list[str]:
        """What has become true of a cup since last asked, and is to be heard. Of one that is
        seen for the first time, as at a start, only the gravest."""
        said = []
        for cup in cups:
            marks = frozenset(cue.mark for cue in cup.cues)
            before = self._heard.get(cup.batch)
            new = _new(cup, before)
            self._heard[cup.batch] = marks if before is None else before | marks
            said += [cue.say for cue in new]
        live = {cup.batch for cup in cups}
        self._heard = {batch: marks for batch, marks in self._heard.items() if batch in live}
        self.rings += bool(said)
        return said


@contextmanager
def _claimed(journal: Journal, on: bool) -> Iterator[None]:
    """As the one writer, which this program is while a batch is on: who else is stays so for
    minutes, and there is no use in waiting."""
    if not on:
        journal.claim()
    try:
        yield
    finally:
        if not on:
            journal.release()


def _new(cup: picture.LiveCup, before: frozenset[str] | None) -> list[picture.Cue]:
    if before is None:
        return [cue for cue in cup.cues if cue.mark == cup.mark]
    return [cue for cue in cup.cues if cue.mark not in before]


def _row(record: Reader, number: int) -> BatchRow | None:
    """The batch as the record has it; None where it cannot be read."""
    with suppress(RecordError):
        return next(iter(batch_rows(record.entries(number))), None)
    return None
