"""The clocks of the live cups: what is foretold of each, what corrects it, what is said of it.

Worked by the bench thread; what takes long is thought out beside it (:mod:`mixer.app.life.seer`).
What was foretold counts once it is in the record, and is asked for again only when something
new is known. Must never keep a batch from being poured, nor wait for an estimate.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from mixer.app.bench import paint
from mixer.app.bench.ledger import STATION
from mixer.app.clock import Clock
from mixer.app.life.asking import Asking
from mixer.app.life.cup_life import AWAITED, standing, until_s
from mixer.app.life.curing import CURING, Curing
from mixer.app.life.seer import Seer
from mixer.app.life.thickenings import drawn, is_drawn, seen_before
from mixer.app.picture import Cue, OfCups, Picture
from mixer.app.picture import LiveCup as DrawnCup
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.reader import Reader
from mixer.record.stored import stored
from mixer.record.views import BatchRow, LiveCup, Moment, after, batch_rows

if TYPE_CHECKING:
    from mixer.app.life.foretelling import Question
    from mixer.app.life.use_up import Before

RETRY_S = 30.0  # between two tries to keep what the record did not take
#: How long the end of the program waits for what is being thought out; and where a cup that is no
#: simulated one has nothing in the record yet (our choice: a busy machine takes some seconds).
LAST_S, LAST_OF_UNTOLD_S = 2.0, 10.0

CUP, LASTS = "cup", "lasts"


class Clocks:
    """``whys`` is what there is of a live cup in the place of a forecast, by its batch: why there
    is none, and by when it is warned of all the same."""

    def __init__(self, clock: Clock, deliver: Callable[[object], None]) -> None:
        self.rings = 0  # grows with each cue that is to be heard
        self.before: Before | None = None  # what is known before the pour of what is asked for
        self._lasting: tuple[int, Question | str] = (0, "")  # the batch, and what was asked of it
        self.whys: dict[int, Mapping[str, Any]] = {}
        self._clock = clock
        # However fast the clock of the bench, it is thought out in the machine's own time.
        self._asking = Asking(Seer(deliver), lambda: clock.age_s() / clock.speed)
        self.curing = Curing(clock, self._asking.ask)
        # By batch and, of one that was split, by cup; 0 is what stood together.
        self._told: dict[tuple[int, int], dict[str, Any]] = {}  # not in the record yet
        self._untold: set[tuple[int, int]] = set()  # real cups of which nothing was told before
        self._try_at_s = 0.0
        self._followed: tuple[int, str] | None = None
        self._unsaid: list[str] = []  # while every eye is on a stream
        self._heard: dict[tuple[int, int], frozenset[str]] = {}

    def before_of(self, number: int) -> Before | None:
        """What is known of this batch before its pour; ``None`` until it is."""
        return self.before if self._lasting[0] == number else None

    # -- what is asked ---------------------------------------------------------------

    def follow(self, record: Reader, number: int, stage: str, stir_s: float) -> None:
        """The batch that is on: before the pour how long it should last, and again once
        something was said; and once all is in the cup what its clock is to run against. Cheap
        where nothing is new."""
        what = CUP if stage == "stir" else LASTS
        if self._followed == (number, what) or stage not in ("cup", "pour", "stir"):
            return
        again = what == LASTS or self._followed is None or self._followed[0] != number
        self._followed = (number, what)
        known = _known(record, number)
        if known is None:
            return
        row, later = known
        # Not before there is a batch or a cup: its first weight would wait for them.
        from mixer.app.life.foretelling import question
        from mixer.app.life.use_up import before, unanswered, untold

        size_ug = row.opened.get("size_ug")
        size_ug = size_ug if type(size_ug) is int else 0
        asked = question(row, row.contact, size_ug, later)
        if what == CUP:
            whole = question(row, row.contact, later=later)
            self._ask(row, whole, seen_before(record, row))
            if not isinstance(whole, str) and whole.off:
                # Nothing that was foretold of the right ratio is said of it any more.
                asked, again = replace(whole, mass_ug=max(whole.mass_ug, size_ug)), True
        if not again:
            return
        if self._lasting[0] != number:  # else the old one holds until there is a new one
            self.before = None
        self._lasting = (number, asked)
        if isinstance(asked, str):
            self.before = untold(asked, size_ug)
        else:
            if asked.off:
                told = self.before.told if self.before else {}
                self.before = unanswered(asked, "", told)
            seen = tuple(seen_before(record, row))
            self._asking.ask((LASTS, number, asked), partial(before, asked, stir_s, seen))

    def look(self, record: Reader, cups: Sequence[LiveCup]) -> None:
        """The live cups: ask about each of which nothing was foretold, or something else than
        is known now, of it or of how soon its resin thickens. Of a cup that has long cured there
        is nothing to foretell."""
        if not cups:
            return
        from mixer.app.life.foretelling import is_as_foretold, of_share, question

        now = self._clock.now()
        young = [cup for cup in cups if is_young(cup, now)]
        read: dict[int, BatchRow | None] = {}
        seen: dict[int, list[float]] = {}
        for cup in {cup.batch: cup for cup in young}.values():
            # All that stood together: a share goes by it until it has a clock of its own.
            whole_ug = cup.row.sum_ug() or 0
            seen[cup.batch] = seen_before(record, cup.row, read)
            if not is_as_foretold(cup.row, whole_ug, seen[cup.batch]):
                asked = question(cup.row, cup.contact, later=cup.later)
                self._ask(cup.row, asked, seen[cup.batch])
        for cup in young:
            whole_ug = cup.row.sum_ug() or 0
            if cup.total_ug >= whole_ug:  # or it was divided by eye, and may be all of it
                continue
            if not is_as_foretold(cup.row, whole_ug, seen[cup.batch], cup.cup):
                whole = question(cup.row, cup.contact, later=cup.later)
                if not isinstance(whole, str):
                    share = of_share(whole, cup.row, cup.contact, cup.cup, cup.later)
                    self._ask(cup.row, share, seen[cup.batch], cup.cup)

        self._look_at_what_taught(record, [row for row in read.values() if row is not None])

    def _look_at_what_taught(self, record: Reader, taught: Sequence[BatchRow]) -> None:
        """The batches of which a cup was said to thicken: one that is over is foretold anew where
        its room was put right since, for the others go by how soon it was against that."""
        from mixer.app.life.foretelling import question, said_of

        for row in taught:
            if row.foretold and row.foretold.get("said") != said_of(row):
                known = _known(record, row.batch)
                if known is not None and row.contact is not None:
                    seen = seen_before(record, row)
                    self._ask(row, question(row, row.contact, later=known[1]), seen)

    def _ask(
        self, row: BatchRow, asked: Question | str, seen: Sequence[float], cup: int = 0
    ) -> None:
        which = (row.batch, cup)
        if isinstance(asked, str):
            self.whys[row.batch] = {"why": asked}
            return
        waits, known = self._told.get(which), _foretold(row, cup)
        # What waits for the record is drawn as it is kept.
        if asked.is_answered_by(waits or known) and (waits or is_drawn(known, seen)):
            if not cup:
                self.whys.pop(row.batch, None)
            return
        key = (CUP, which, asked)
        if self._asking.has(key):
            return
        from mixer.app.life.foretelling import answer, by_rule

        if not cup and asked.off:  # no time stands there until it is answered
            self.whys[row.batch] = by_rule(asked, "")
        elif not cup and (before := self.whys.pop(row.batch, {})).get("by_rule"):
            self.whys[row.batch] = by_rule(asked, before["why"])
        if not known and row.opened.get("bench") != "simulated":
            self._untold.add(which)
        self._asking.ask(key, partial(answer, asked))

    # -- what was thought out ----------------------------------------------------------

    def collect(self, journal: Journal | None, *, on: bool) -> bool:
        """Take what was thought out, and keep it in the record; whether there is something new
        to show. ``on``: a batch is on, so that this program is the one writer."""
        news = False
        for (what, which, asked), found in self._asking.take():
            if what == CURING:
                news |= self.curing.take(asked, found)
            elif isinstance(found, TimeoutError):
                news |= self._went(what, which, asked, AWAITED)
            elif isinstance(found, Exception):
                why = f"the estimate failed ({type(found).__name__})"
                news |= self._went(what, which, asked, why)
            elif what == LASTS:
                if self._lasting == (which, asked):
                    self.before, news = found, True
            else:
                self._told[which] = found
                self._try_at_s = 0.0
        now_s = self._clock.age_s()
        if self._told and journal is not None and now_s >= self._try_at_s:
            self._try_at_s = now_s + RETRY_S
            with suppress(RecordError):
                self._keep(journal, on=on)
                news = True
        return news

    def _went(self, what: str, which: Any, asked: Question, why: str) -> bool:
        """There is no answer yet: until there is one it is warned of by the plain rule. Whether
        there is something new to show."""
        from mixer.app.life.foretelling import by_rule
        from mixer.app.life.use_up import unanswered

        if what == LASTS:
            if self._lasting != (which, asked) or asked.off:
                return False
            self.before = unanswered(asked, why)
        elif which[1]:  # it goes on by the clock of its batch
            return False
        else:
            self.whys[which[0]] = by_rule(asked, why)
        return True

    def finish(self, journal: Journal | None) -> None:
        """The end: keep what is being thought out of a cup, if it comes soon."""
        if cups := [which for what, which, _ in self._asking.pending() if what == CUP]:
            self._asking.wait(LAST_OF_UNTOLD_S if self._untold.intersection(cups) else LAST_S)
        self._try_at_s = 0.0
        self.collect(journal, on=False)
        self._asking.close()

    def _keep(self, journal: Journal, *, on: bool) -> None:
        with _claimed(journal, on):
            entries, unread = [], {}
            read: dict[int, BatchRow | None] = {}
            for (batch, cup), found in self._told.items():
                known = _known(journal, batch)
                if known is None:  # or it would be asked for again at once, and for ever
                    unread[batch, cup] = found
                    continue
                row, _ = known
                data = drawn(found, seen_before(journal, row, read))
                data |= {"cup": cup} if cup else {}
                if not cup:
                    self.whys.pop(batch, None)
                if _foretold(row, cup) != data:
                    kind = "foretold-share" if cup else "foretold"
                    entries.append(self._entry(kind, data, batch))
            journal.append(entries)
        self._told = unread

    # -- what the builder says ----------------------------------------------------------

    def measured(
        self, journal: Journal, data: dict[str, Any], batches: Iterable[int], *, on: bool
    ) -> None:
        """The air is so warm now: of each of these batches a fact. Raises
        :class:`RecordError`."""
        with _claimed(journal, on):
            journal.append([self._entry("measured", data, batch) for batch in batches])
        self._followed = None

    def thickens(
        self,
        journal: Journal,
        cup: LiveCup,
        data: dict[str, Any],
        *,
        on: bool,
    ) -> None:
        """The builder says that this cup thickens: a fact; others of its resin are asked about
        anew as they are looked at next. Raises :class:`RecordError`."""
        with _claimed(journal, on):
            journal.append([self._entry("thickened", data, cup.batch)])
        self._followed = None
        if not cup.foretold and cup.batch not in self.whys:
            from mixer.app.life.foretelling import untold_yet

            self.whys[cup.batch] = untold_yet(cup.row, cup.contact, cup.later)

    def _entry(self, kind: str, data: dict[str, Any], batch: int) -> Entry:
        now = self._clock.now()
        return Entry(kind, data, now.at_ms, now.boot, now.utc, batch, STATION)

    # -- what is said --------------------------------------------------------------------

    def draw(
        self,
        seen: Picture,
        cups: tuple[DrawnCup, ...],
        number: int | None,
        *,
        streaming: bool,
        may_sleep: bool = False,
    ) -> tuple[OfCups, str]:
        """What the picture is to have of these cups, and what is now to be said of them, which is
        among it; empty where there is nothing, or while something streams into a cup: it is heard
        at once, and said after it. ``number`` is the batch's that is on: with hardener in it,
        it is warned of as well, by what was foretold of the size that was asked for.
        ``may_sleep`` as in the picture."""
        said = []
        for cup in {cup.clock: cup for cup in cups}.values():
            if not cup.stands.say:  # nothing is known of it yet, so that it was not seen either
                continue
            is_old = cup.stands.is_old
            said += self._new(cup.clock, cup.stands.cues, "" if is_old else cup.stands.mark)
        if number in [cup.batch for cup in cups]:  # it is split, and its cups are live
            number = None
        if number is not None and seen.contact_age_s is not None:
            told = self.before.told if self.before else {}
            found = standing("this cup", seen.contact_age_s, told)
            said += self._new((number, 0), found.cues, found.mark)
        self.rings += bool(said)
        self._unsaid += said
        now = "" if streaming else " ".join(self._unsaid)
        self._unsaid = self._unsaid if streaming else []
        lasts = self.before.say if self.before and number is not None else ""
        of_cups = OfCups(
            say=now or seen.say, live_cups=cups, cup_rings=self.rings, lasts=lasts,
            curing=self.curing.lines, may_sleep=may_sleep,
        )  # fmt: skip
        return of_cups, now

    def _new(self, clock: tuple[int, int], cues: Sequence[Cue], mark: str) -> list[str]:
        """What has become true since last asked, or again after it was not; of what is seen for
        the first time, as at a start, only the gravest. A cup that has a clock of its own had that
        of its batch until then."""
        before = self._heard.get(clock, self._heard.get((clock[0], 0)))
        self._heard[clock] = frozenset(cue.mark for cue in cues)
        if before is None:
            return [cue.say for cue in cues if cue.mark == mark]
        return [cue.say for cue in cues if cue.mark not in before]


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


def is_young(cup: LiveCup, now: Moment) -> bool:
    """Whether something of what was foretold of it is still to come."""
    return paint.age_s(cup, now) < until_s(cup.foretold)


def _foretold(row: BatchRow, cup: int) -> dict[str, Any]:
    """The newest of one cup of it, or with 0 of all that stood together."""
    return row.shares_foretold.get(cup, {}) if cup else row.foretold


def _known(record: Reader, number: int) -> tuple[BatchRow, tuple[Moment, ...]] | None:
    """The batch as far as the record has it, and what it knows to lie after first contact; None
    where nothing of it can be read. One that is damaged is foretold and warned of too."""
    with suppress(RecordError):
        entries = [kept.entry for kept in stored(record.as_far_as(number)[0]) if kept.entry]
        for row in batch_rows(entries):
            moments = [Moment(entry.utc, entry.at_ms, entry.boot) for entry in entries]
            return row, after(row.contact, moments) if row.contact else ()
    return None
