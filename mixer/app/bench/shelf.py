"""The record at the bench, and the live cups in it: opened, claimed for a batch, looked at, and
said what is done with them.

Worked by the bench thread. It must never keep a batch from being poured, nor show of a cup
what is not in the record.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from mixer.app.bench import paint
from mixer.app.bench.awake import Awake
from mixer.app.bench.carry_on import held_up
from mixer.app.book.paperwork import close_cup, open_record
from mixer.app.book.split import split_cup
from mixer.app.clock import Clock
from mixer.app.life import cup_words
from mixer.app.life.clocks import Clocks
from mixer.app.life.cup_life import cooled_at_s
from mixer.app.life.live import Live, look
from mixer.app.picture import LiveCup, OfCups, Picture
from mixer.app.sentence import NotDone, sentence
from mixer.pour.inputs import Key
from mixer.record.envelope import RecordError
from mixer.record.journal import IMPATIENT_S, Journal
from mixer.record.lock import WriterLock

FIRST_S = 2.0  # before what cures is looked at: by then the window stands
LOOK_S = 1.0  # how often, between batches, it is looked whether the record has grown


@dataclass(frozen=True, slots=True)
class Close:
    """A live cup is to be closed (see :mod:`mixer.app.book.paperwork`); or, where ``how`` is
    ``share``, so much of it, ``left``, is in a cup of its own."""

    cup: int
    how: str
    left: str | None


class Shelf:
    """``journal`` is None until the record was opened to be written, ``live`` the cups as they
    were looked at last. ``deliver`` is called from other threads when there is something to
    gather. What is asked with ``on`` is whether a batch is on, for which the record is claimed
    already."""

    def __init__(self, record: Path, clock: Clock, deliver: Callable[[object], None]) -> None:
        self.record = record
        self.journal: Journal | None = None
        self.live = Live()
        self.clocks = Clocks(clock, deliver)
        self._clock, self._awake = clock, Awake(deliver)
        self._looked_s = clock.age_s() + FIRST_S
        self._head: tuple[int, bytes] | None = None

    # -- the record --------------------------------------------------------------------

    def open_if_there(self) -> str:
        """As :meth:`open`, of a record that is there."""
        return self.open() if os.path.isfile(self.record) else ""

    def open(self) -> str:
        """Open or make the record; a sentence where that cannot be, with what was cut off."""
        if self.journal is not None:
            return ""
        trouble = ""
        try:
            self.journal = open_record(self.record)
        except NotDone as error:
            trouble = f"{error} {self._held_up()}".strip()
        self.look()  # also where it may only be looked at
        return trouble

    def claim(self) -> str:
        """Be the one writer for the length of a batch, lest another program take it for one
        that was cut off; a sentence where another is."""
        assert self.journal is not None
        try:
            self.journal.claim()
        except RecordError as error:
            return f"{error.say} {self._held_up()}".strip()
        self.look()  # another program may have written until now
        self._look_at_what_cures()
        return ""

    def _held_up(self) -> str:
        """What was cut off in a record that takes nothing; a batch that another program is
        making was not."""
        with contextlib.suppress(RecordError, OSError):
            if not WriterLock(self.record).is_another_s(IMPATIENT_S):
                with Journal.read(self.record) as reader:
                    return held_up(reader, self._clock.now())
        return ""

    def release(self) -> None:
        """Let others write."""
        if self.journal is not None:
            self.journal.release()

    def close(self) -> None:
        """Let go of the record, once what is thought out of its cups is in it."""
        self._awake.close()
        self.clocks.finish(self.journal)
        if self.journal is not None:
            self.journal.close()

    def amiss(self) -> str:
        """What is to be known of the record and its cups before a batch begins."""
        journal = self.journal
        lost = journal.lost if journal is not None else ""
        made = ""
        if journal is not None and journal.new and not journal.head()[0]:
            made = f"A new record is begun at {journal.path}."
        set_back = paint.set_back(self.live.cups, self._clock.now())
        said = (made, lost, self.live.say, set_back, self.live.share_on())
        return " ".join(filter(None, said))

    # -- its live cups -----------------------------------------------------------------

    def look(self) -> None:
        """Those of the record; the ones known before, where it cannot be read just now."""
        with contextlib.suppress(RecordError, OSError):
            self.live = look(self.journal, self.record)
            if self.journal is not None:  # else nothing that is foretold could be kept
                self.clocks.look(self.journal, self.live.cups)

    def look_again(self, now_s: float) -> bool:
        """Between batches, now and then: what another program has written, and what cures;
        whether there are other cups than before."""
        news, journal = False, self.journal
        if journal is None or now_s - self._looked_s < LOOK_S:
            return False
        self._looked_s = now_s
        with contextlib.suppress(RecordError, OSError):
            head, before = journal.head(), self._head
            self._head = head
            if news := before not in (None, head):
                self.look()
            self.clocks.curing.look(journal, head)
        return news

    def _look_at_what_cures(self) -> None:
        """While a batch is on, as it begins and when the room was told of."""
        with contextlib.suppress(RecordError, OSError):
            if self.journal is not None:
                self.clocks.curing.look(self.journal, self.journal.head())

    def follow(self, number: int, stage: str, stir_s: float) -> None:
        """The batch that is on: how long it, and its cup, should last."""
        if self.journal is not None:
            self.clocks.follow(self.journal, number, stage, stir_s)

    def gather(self, *, on: bool) -> bool:
        """What was thought out of the cups meanwhile; whether there is something new to show."""
        news = self.clocks.collect(self.journal, on=on)
        if news:
            self.look()
        return news

    def end_or_split(self, wish: Close, *, on: bool) -> str:
        """Do it, and say so or why not."""
        if self.journal is None:
            return ""
        try:
            return self._done(self.journal, wish, on=on)
        except (NotDone, RecordError) as error:
            return sentence(error)
        finally:
            self.look()

    def _done(self, journal: Journal, wish: Close, *, on: bool) -> str:
        if wish.how != "share":
            return close_cup(journal, wish.cup, wish.how, wish.left)
        if not on:
            journal.claim()
        try:
            return split_cup(journal, wish.cup, [wish.left or "?"])
        finally:
            if not on:
                journal.release()

    def hear(self, key: Key, *, on: bool, number: int | None) -> str:
        """A word to the clocks of the cups (see :mod:`mixer.app.life.cup_words`), and the answer to
        it. ``number`` is that of the batch that is on."""
        if self.journal is None:
            return cup_words.NO_CUP[key.word]
        cups, curing, now = self.live.cups, self.clocks.curing.batches, self._clock.now()
        said = cup_words.hear(
            key, self.clocks, self.journal, cups, now, on=on, number=number, curing=curing
        )
        self.look()
        if key.word == "air":
            self._look_at_what_cures()
        return said or cup_words.NO_CUP[key.word]

    def keep_awake(self, real_batch: bool) -> None:
        """The computer, for a batch that is on or a cup that may still be hot; not for simulated
        ones."""
        self._awake.want(real_batch or self._may_be_hot())

    def _may_be_hot(self) -> bool:
        now = self._clock.now()
        return any(
            cup.row.opened.get("bench") != "simulated"
            and paint.age_s(cup, now) < cooled_at_s(cup.foretold)
            for cup in self.live.cups
        )

    def draw(self, picture: Picture, number: int | None, *, streaming: bool) -> tuple[OfCups, str]:
        """What the picture is to have of the cups as they are now, and what is now to be said of
        them (see :meth:`mixer.app.life.clocks.Clocks.draw`)."""
        cups: tuple[LiveCup, ...] = ()
        if self.live.cups or picture.live_cups:
            cups = paint.live_cups(self.live.cups, self._clock.now(), self.clocks.whys)
        may_sleep = self._awake.may_sleep
        return self.clocks.draw(picture, cups, number, streaming=streaming, may_sleep=may_sleep)
