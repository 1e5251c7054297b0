"""The bench: owner of batch, scale and record, worked by one thread and seen by none other.

What happens is handed in; pictures go out to the board. It must never show a fact that
is not on disk, and never let go of a batch that is on but by its end.
"""

from __future__ import annotations

import contextlib
import gc
import os
import threading
import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from devices.link import LinkError
from devices.readings import About, Fault, Reading
from mixer import units
from mixer.app.bench import tag_words
from mixer.app.bench.awake import Answered
from mixer.app.bench.batch import Batch
from mixer.app.bench.board import Board
from mixer.app.bench.carry_on import CutOff, gone_on_with, unfinished
from mixer.app.bench.hookup import Hookup
from mixer.app.bench.shelf import Close, Shelf
from mixer.app.bench.typed_batch import TypedBatch
from mixer.app.clock import Clock
from mixer.app.life import cup_words
from mixer.app.life.seer import Thought
from mixer.app.picture import Picture
from mixer.app.request import Request, by_kit
from mixer.app.resolve import Order, Refused, resolve
from mixer.pour.cups import own_cup
from mixer.pour.inputs import Cut, Failed, Input, Key, Tick, Weighed
from mixer.pour.state import Pour
from mixer.record.journal import Journal

if TYPE_CHECKING:
    from mixer.app.bench.kitting import Kitting
    from mixer.app.bench.visitor import Visitor
    from mixer.plan.tags import Kit

ANY_SIZE = "1 g"  # until it is known: all else that is asked for is looked at with it
AGES_S = 1.0  # how often the ages of the live cups are told when nothing else happens


def _load_the_rest() -> None:
    """What a word may need later, beside the first weights: no pour waits for it, nor do they."""
    units.load()
    gc.freeze()


class Bench:
    """``deliver`` takes what the scale says, from its thread, to be handed in here.

    ``give_up_s`` and ``visitor`` as in :class:`mixer.app.bench.shop.Shop`. ``exit_status`` is
    ``None`` while a batch is on; then 0, 1, 2 or 3 as the command line promises.
    """

    def __init__(
        self,
        record: Path,
        clock: Clock,
        board: Board,
        deliver: Callable[[object], None],
        give_up_s: float | None,
        visitor: Visitor | None,
    ) -> None:
        self.exit_status: int | None = None
        self._clock, self._board, self._deliver = clock, board, deliver
        self._give_up_s, self._visitor = give_up_s, visitor
        self._shelf = Shelf(record, clock, deliver)
        self._hookup: Hookup | None = None
        self._batch: Batch | None = None
        self._kitting: Kitting | None = None
        self._scanned: list[Kit] = []  # for the next batch, with none on

    def look_for_record(self) -> None:
        """Show the live cups of a record that is there, and what was cut off in mid-pour,
        before any batch begins."""
        shelf = self._shelf
        if os.path.isfile(shelf.record):
            trouble = shelf.open()
            picture, offer, say = self._board.newest, None, ""
            if shelf.journal is not None:
                offer, say = unfinished(shelf.journal, self._clock.now())
                if say and shelf.journal.is_claimed():
                    offer, say = None, "Another cupside is making a batch in this record."
            said = " ".join(filter(None, (trouble, shelf.amiss(), say)))
            self._publish(replace(picture, say=said or picture.say, offer=offer))

    def handle(self, happened: object) -> None:
        """A request, a word of the builder's, a cup to close, or what the scale said."""
        match happened:
            case Request():
                self._begin(happened)
            case Close():
                self._close(happened)
            case Reading():
                self._take(Weighed(happened))
            case Fault():
                self._take(Failed(happened))
            case About():
                self._heed(happened)
            case Key(word="air") if self._kitting is not None:
                if self._shelf.live.cups:
                    self._hear(happened)
                self._take(happened)
            case Key() if happened.word in cup_words.WORDS:
                self._hear(happened)
            case Key() if self._kitting is not None:
                self._take(happened)
            case Key() if said := tag_words.answer(happened, self._poured()):
                if said.kit is not None and self._on() is None:
                    self._scanned.append(said.kit)
                self._answer(said.text, heard=said.heard)
            case Key():
                self._take(happened)
            case Thought():
                self._gather()
            case Answered():
                self._show_as_it_is()

    def tick(self, now_s: float) -> None:
        """Time went by."""
        self._gather()
        batch = self._on()
        self._shelf.keep_awake(batch is not None and not batch.order.simulated)
        if batch is not None or self._kitting is not None:
            self._take(Tick(now_s, self._shelf.live.free_number()))
        elif self._shelf.look_again(now_s):
            self._show_as_it_is()
        if self._shelf.live.cups and now_s - self._board.newest.t_s >= AGES_S:
            self._show_as_it_is()  # their clocks run on

    def end(self, why: str, to_go_on: bool = False) -> None:
        """End what is on, or leave it open to go on at the next start; and let go of scale
        and record."""
        if self._kitting is not None:
            self._take(Cut(self._clock.age_s(), "interrupted"))
        batch = self._on()
        pouring = batch is not None and batch.durable.result is None
        if batch is not None and to_go_on and pouring and batch.durable.tared is not None:
            said = batch.leave(why)
            self._publish(replace(batch.picture(), cue="wait", say=said, outcome="left-open"))
        elif batch is not None:
            unrecorded = batch.cut(why)
            if batch.status is not None:
                self._finish(batch)
            else:
                self._publish(replace(batch.picture(), say=unrecorded, outcome="unrecorded"))
        self._release()
        self._shelf.close()

    def break_off(self, error: Exception) -> None:
        """A fault of the program's own: end the batch, say where it was, and go on."""
        batch, self._batch = self._on(), None
        self._leave_kits()
        at = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__} in {Path(at.filename).name}, line {at.lineno}"
        say = f"The program itself failed ({where})."
        picture = self._board.newest
        if batch is not None:
            say += " The batch ended; what was weighed until then stands in the record."
            picture = replace(picture, stage="ended", held=None, cue="wait")
            with contextlib.suppress(Exception):
                batch.cut("the program itself failed")
                picture = batch.picture()
        with contextlib.suppress(Exception):
            self._release()
        self._publish(replace(picture, say=say, outcome="failed"))
        self.exit_status = 1

    def _on(self) -> Batch | None:
        batch = self._batch
        return batch if batch is not None and batch.status is None else None

    def _poured(self) -> Pour | None:
        batch = self._on()
        return None if batch is None else batch.durable

    def _begin(self, request: Request) -> None:
        if self._on() is not None or self._kitting is not None:
            return  # no face offers it, and what is on must not be lost
        self._release()
        self._batch = None
        if by_kit(request) and self._shelf.journal is not None:
            request = gone_on_with(request, self._shelf.journal, self._clock.now())
        try:
            order = resolve(replace(request, size=ANY_SIZE) if by_kit(request) else request)
            # To look for garbage through all that is loaded now takes 40 ms, in which no
            # window can draw; what stays for good need not be looked through.
            gc.freeze()
            left_ug = self._left_ug(order) if order.simulated else None
            hookup = None
            if not order.typed:
                hookup = Hookup(order, self._clock, self._deliver, self._visitor, left_ug)
        except Refused as error:
            self._refuse(2, str(error))
            return
        except LinkError as error:
            self._refuse(3, error.say)
            return
        self._hookup = hookup
        threading.Thread(target=_load_the_rest, name="units", daemon=True).start()
        trouble = self._shelf.open() or self._shelf.claim()
        if trouble or self._shelf.journal is None:
            self._release()
            self._refuse(2, trouble)
            return
        scanned, self._scanned = self._scanned, []
        if not by_kit(request):
            self._make(order, self._shelf.journal)
            return
        from mixer.app.bench.kitting import Kitting

        record = self._shelf.record
        self._kitting = Kitting(request, order, record, self._clock, self._deliver, scanned)
        self._show()

    def _make(self, order: Order, journal: Journal) -> None:
        make = TypedBatch if order.typed else Batch
        self._batch = make(order, journal, self._clock, self._give_up_s)
        self._batch.amiss = self._shelf.amiss()
        self._show()

    def _take_for_kits(self, kitting: Kitting, happened: Input) -> None:
        """Before there is a batch: what is scanned and weighed for it."""
        news = kitting.take(happened)
        if kitting.status is not None:
            self._leave_kits()
            self._release()
            self._refuse(kitting.status, kitting.refusal)
        elif kitting.taken is not None and self._shelf.journal is not None:
            self._leave_kits()
            try:
                self._make(kitting.order(kitting.taken), self._shelf.journal)
            except Refused as error:
                self._release()
                self._refuse(2, str(error))
        elif news:
            self._show()

    def _leave_kits(self) -> None:
        kitting, self._kitting = self._kitting, None
        if kitting is not None:
            kitting.close()

    def _left_ug(self, order: Order) -> int | None:
        if self._shelf.journal is None:  # there was none at the start
            return None
        return CutOff(self._shelf.journal, self._clock).left_ug(order)

    def _heed(self, about: About) -> None:
        """The scale's own word on what it can carry counts where it is less."""
        if self._kitting is not None:
            self._kitting.heed(about.capacity_ug)
        batch = self._on()
        if batch is None or batch.number is not None or about.capacity_ug is None:
            return
        try:
            batch.order = batch.order.on_scale_of(about.capacity_ug)
        except Refused as error:
            batch.refuse(2, str(error))
            self._finish(batch)

    def _take(self, happened: Input) -> None:
        if self._kitting is not None:
            self._take_for_kits(self._kitting, happened)
            return
        batch = self._on()
        if batch is None:
            return
        before = batch.durable
        if before.stage == "split" and isinstance(happened, Key):  # it may want a number at once
            batch.take(Tick(happened.at_s, self._shelf.live.free_number()))
        news = batch.take(happened)
        now = batch.durable
        if (now.result, now.shares, now.filled) != (before.result, before.shares, before.filled):
            self._shelf.look()
        if batch.number is not None:
            self._shelf.follow(batch.number, now.stage, now.stir_ms / 1000)
        if batch.status is not None:
            self._finish(batch)
        elif news:
            self._show()

    def _finish(self, batch: Batch) -> None:
        status = batch.status
        if batch.number is None:
            self._release()
            self._refuse(1 if status is None else status, batch.refusal)
            return
        self._shelf.look()
        self._show()
        self._release()
        self.exit_status = status

    def _close(self, wish: Close) -> None:
        trouble = self._shelf.open_if_there()
        pour = self._poured()
        mine = pour is not None and pour.stage == "split"
        if pour is not None and mine and wish.cup in (own_cup(pour), *(s.cup for s in pour.shares)):
            said = "This batch is being split: go on once all is shared, then close its cups."
        else:
            said = self._shelf.end_or_split(wish, on=self._on() is not None)
        self._answer(said or trouble)

    def _hear(self, key: Key) -> None:
        """A word to the clocks of the cups."""
        trouble = self._shelf.open_if_there()
        batch = self._on()
        number = None if batch is None else batch.number
        said = self._shelf.hear(key, on=batch is not None, number=number)
        self._answer(trouble if trouble and self._shelf.journal is None else said)

    def _answer(self, said: str, *, heard: bool = False) -> None:
        batch, newest = self._on(), self._board.newest
        if self._kitting is not None:
            self._kitting.tell(said, heard=heard)
            self._show()
        elif batch is None:
            self._publish(replace(newest, say=said, rings=newest.rings + heard))
        else:
            batch.tell(said, heard=heard)
            self._show()

    def _gather(self) -> None:
        """What was thought out of the cups, and of kits, meanwhile."""
        if self._kitting is not None and self._kitting.collect():
            self._show()
        batch = self._on()
        if self._shelf.gather(on=batch is not None):
            self._show_as_it_is()
        if batch is not None and batch.number is not None:
            before = self._shelf.clocks.before_of(batch.number)
            if before is not None:
                batch.cap(before.cap_ug)

    def _show_as_it_is(self) -> None:
        """The batch that is on as it is now, or what was shown last with the cups as they are."""
        if self._on() is not None or self._kitting is not None:
            self._show()
        else:
            self._publish(self._board.newest)

    def _release(self) -> None:
        hookup, self._hookup = self._hookup, None
        if hookup is not None:
            hookup.close()
        self._shelf.release()

    def _refuse(self, status: int, sentence: str) -> None:
        self._publish(Picture(cue="wait", say=sentence, outcome="refused"))
        self.exit_status = status

    def _show(self) -> None:
        shown = self._kitting or self._batch
        if shown is not None:
            self._publish(shown.picture())
            if self._hookup is not None:
                self._hookup.show(self._board.newest)

    def _publish(self, picture: Picture) -> None:
        batch = self._on()
        number, streaming = (batch.number, batch.streaming) if batch else (None, False)
        of_cups, said = self._shelf.draw(picture, number, streaming=streaming)
        if said and batch is not None:
            batch.tell(said)
        self._board.publish(picture, self._clock.age_s(), **of_cups)
