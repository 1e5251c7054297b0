"""One batch at the bench: what happens goes in, facts go to the record, a picture comes out.

Owned by the bench thread. A fact counts once it is on disk: while the record cannot be
written, the facts that were decided wait in their order, are tried again, and nothing
further is decided. So none is lost, doubled, or shown before its time. A batch that was
cut off goes on as what it was (:mod:`mixer.app.bench.carry_on`). It must never open a port,
start a thread, or read a clock but the one that is handed in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from mixer.app.bench import damp, paint
from mixer.app.bench.carry_on import MAY_BE_FULL, NOT_AS_STORED, CutOff, set_back
from mixer.app.bench.hearing import Hearing, no_weight
from mixer.app.bench.ledger import Ledger
from mixer.app.bench.lessons import taught_before
from mixer.app.bench.notes import unfit_note
from mixer.app.bench.splitting import Splitting, shares, with_figures
from mixer.app.bench.trace_keeper import TraceKeeper
from mixer.app.clock import Clock
from mixer.app.life.ages import ClockWatch
from mixer.app.picture import Picture
from mixer.app.resolve import Order
from mixer.pour.afresh import first_sight, take_up
from mixer.pour.coach import Coach, advise
from mixer.pour.decide import decide
from mixer.pour.decision import Decision
from mixer.pour.facts import (
    Called,
    Capped,
    Doubted,
    Fact,
    Learned,
    Lost,
    Noted,
    Opened,
    Stirring,
    Tared,
)
from mixer.pour.inputs import Cut, Input, Key, Tick, Weighed
from mixer.pour.observe import is_double_press, observe, shown
from mixer.pour.parting import is_followed
from mixer.pour.sight import Sight
from mixer.pour.state import Pour, begin, evolve
from mixer.pour.taught import Learning
from mixer.pour.words import TARED_ANEW, Advice, gone
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

NOTICE_S = 4.0
TOLD_S = 0.12  # a reading so new was looked at and shown, and the next tick may wait for another
CLOCK_S = 1.0  # how often it is looked whether UTC was set
_URGENT = ("held", "live", "ended", "divided")
_WEIGHING = ("cup", "pour")  # stages in which the scale matters


class Batch:
    """``number`` is the batch's in the record; ``None`` until the first reading opens it, or
    finds the one that is carried on.

    ``give_up_s`` is how long a scale that has gone is waited for in mid-pour, in seconds
    of the clock; ``None``: for ever, as in the window.
    """

    def __init__(
        self, order: Order, journal: Journal, clock: Clock, give_up_s: float | None
    ) -> None:
        self.order = order
        self.refusal = ""  # why it was never opened
        self.amiss = ""  # what is wrong with the record, to be said when it begins
        self._clock, self._hearing = clock, Hearing(clock, give_up_s)
        self._journal = journal
        self._ledger, self._keeper = Ledger(journal, clock), TraceKeeper(journal, clock)
        self._cut_off = CutOff(journal, clock)
        self._watch, self._watched_s = ClockWatch(clock.now()), clock.age_s()
        self._pour: Pour = begin(Opened(0, order.terms, order.about))
        self._sight, self._coach = Sight(), Coach()
        self._refused: int | None = None
        self._at_least_until_ms: int | None = None  # first contact before it may be longer ago
        self._notice, self._notice_until_s = "", 0.0
        self._beside = self._answers = False
        self._splitting = Splitting()
        self._early: Key | None = None
        self._rings = 0  # how often something was to be heard as well as read

    @property
    def number(self) -> int | None:
        return self._ledger.number

    @property
    def status(self) -> int | None:
        """``None`` while it is on; then 0, 1, 2 or 3 as the command line promises."""
        result = self._pour.result
        if result is None or self._pour.stage == "split":
            return self._refused
        if self._pour.stage == "live":
            return 0 if result.verdict == "in-band" else 1
        return 3 if getattr(result, "how", "") == "scale-lost" else 1

    @property
    def durable(self) -> Pour:
        """What its facts in the record come to."""
        return self._pour

    @property
    def streaming(self) -> bool:
        """Whether something runs into the cup just now, as far as a scale can tell."""
        return self._sight.streaming

    def take(self, happened: Input) -> bool:
        """Whatever happens at the bench. True where there is something new to show."""
        self._hearing.take(happened)
        weighing = self._pour.stage in _WEIGHING
        if isinstance(happened, Tick) and weighing and self._is_told(happened.at_s):
            return False  # a reading has just told all that there is to tell now
        if self.number is None and not self._open(happened):
            if isinstance(happened, Key) and happened.word == "split" and self._refused is None:
                self._early = happened  # a wish for later, and no answer to anything shown
            return True
        if self._early is not None:
            early, self._early = self._early, None
            self.take(replace(early, at_s=happened.at_s))
        if not self._write(happened.at_s):
            self._look(happened)
            self._trace(happened, False)
            if isinstance(happened, Key):
                self.tell(f"{happened.word} was not taken. {self._ledger.trouble}")
            return True
        read = unfit_note(happened) or with_figures(happened)
        if isinstance(read, str):
            self.tell(read)
            return True
        happened = read
        double = isinstance(happened, Key) and is_double_press(self._sight, happened)
        self._look(happened)
        decision = self._decide(happened, double)
        turns = self._answers and any(self._is_a_turn(fact) for fact in decision.facts)
        if turns or any(fact.kind in _URGENT for fact in decision.facts):
            self._notice_until_s = 0.0  # what was said before must not hide what is said now
        for fact in decision.facts:
            if isinstance(fact, Lost):
                self.tell(gone(fact.from_ug - fact.gross_ug, self._sight.division_ug))
            elif isinstance(fact, Tared) and self._pour.tared is not None:
                self.tell(TARED_ANEW.format(fact.text))
        if said := decision.refusal or decision.notice:
            self.tell(said)
            self._answers = bool(decision.refusal)
        self._rings += decision.alarm
        facts = self._cut_off.doubted(decision.facts)
        if facts != decision.facts:
            self.tell(MAY_BE_FULL, heard=True)
        self._put(facts, happened.at_s)
        self._trace(happened, bool(decision.facts))
        if self._pour.stage in _WEIGHING and self._hearing.is_lost(happened.at_s):
            self.take(Cut(happened.at_s, "scale-lost"))
        jumped = self._clock_jumped(happened.at_s)
        news = bool(decision.facts) or jumped or not isinstance(happened, Tick)
        return news or self._restless(happened.at_s)

    def cut(self, why: str) -> str:
        """End it now; a sentence where the record could not be told so, else empty."""
        now_s = self._clock.age_s()
        if self.number is not None and self._write(now_s, at_once=True):
            self.take(Key(now_s, "note", f"program ended: {why}"))
        if self._write(now_s, at_once=True):
            self.take(Cut(now_s, "interrupted"))
        if not self._ledger.waits:
            return ""
        return f"That the batch ended is not recorded. {self._ledger.trouble}"

    def leave(self, why: str) -> str:
        """Leave it open, to go on at the next start; a sentence that says so."""
        now_s = self._clock.age_s()
        if self._write(now_s, at_once=True):
            self.take(Key(now_s, "note", f"program ended: {why}"))
        if self.number is not None and not self._ledger.waits:
            self._keeper.write(self.number, now_s)
        trouble = f" {self._ledger.trouble}" if self._ledger.waits else ""
        return (
            f"The program was told to end. Batch {self.number} stays open: leave its cup as it is, "
            f"and start again to go on with it.{trouble}"
        )

    def cap(self, most_ug: int | None) -> None:
        """By its heat and its pot life no more than so much of it is to be in the cup. Said again
        until it is in the record."""
        if self.number is not None and self._pour.stage in _WEIGHING:
            now_s = self._clock.age_s()
            if most_ug != self._pour.heat_most_ug and not self._ledger.waits:
                self._put((Capped(round(now_s * 1000), most_ug),), now_s)

    def refuse(self, status: int, sentence: str) -> None:
        """Never open it: the exit status, and why, in one sentence."""
        self._refused, self.refusal = status, sentence

    def tell(self, sentence: str, *, heard: bool = False, beside: bool = False) -> None:
        """Say this for a while in the place of what else there is to say, or ``beside`` it."""
        self._rings += heard
        self._notice, self._notice_until_s = sentence, self._clock.age_s() + NOTICE_S
        self._beside, self._answers = beside, False

    def _is_a_turn(self, fact: Fact) -> bool:
        """Whether it brings another jug, or the stir: what was refused before it is over."""
        called = self._pour.called
        if isinstance(fact, Called):
            return called is None or called.component != fact.component
        return isinstance(fact, Stirring)

    def picture(self) -> Picture:
        """The batch as it stands now."""
        now_s = self._clock.age_s()
        if self._pour.stage == "split":
            advice = self._splitting.advise(self._pour, self._sight, now_s)
        else:
            self._coach, advice = advise(self._pour, self._sight, self._coach, now_s)
        self._sight = shown(self._sight, advice.cue, now_s)
        held, advice = paint.held(self._pour, advice, self._hearing.missing(self._sight, now_s))
        if self._ledger.trouble:
            held = "record"
            advice = Advice("stop" if self._sight.streaming else "wait", self._ledger.trouble)
        elif now_s < self._notice_until_s:
            to_do = f" {advice.say}" if self._beside else ""
            advice = replace(advice, say=self._notice + to_do)
        else:
            self._notice = ""
        scale = paint.scale_view(self._sight, now_s)
        return self._drawn(self._sight, advice, now_s, held=held, scale=scale, rings=self._rings)

    def _drawn(self, sight: Sight, advice: Advice, now_s: float, **seen: Any) -> Picture:
        """The picture with what else is seen, and with what is in its cups."""
        seen |= paint.titles(self.order) | {"shares": shares(self._pour)}
        picture = paint.picture(self._pour, sight, advice, self.number, now_s, **seen)
        picture = paint.with_proven_age(picture, self._pour, self._at_least_until_ms)
        if self._pour.stage != "split":
            return picture
        return self._splitting.on_scale(picture, self._pour, self._sight)

    def _decide(self, happened: Input, double: bool) -> Decision:
        if self._pour.stage == "split":
            return self._share(happened, double)
        return decide(self._pour, self._sight, happened, double)

    def _share(self, happened: Input, double: bool) -> Decision:
        """The same once it is live and is split."""
        if double:
            return Decision()
        decision = self._splitting.decide(self._pour, self._sight, happened)
        if trouble := self._splitting.trouble:
            self._splitting.trouble = ""
            self.tell(trouble)
        return decision

    # -- before it is opened -------------------------------------------------------

    def _open(self, happened: Input) -> bool:
        """Open it in the record with the first reading, or go on with the one that was cut
        off; false until that is done."""
        at_s = happened.at_s
        if isinstance(happened, Cut) or (isinstance(happened, Key) and happened.word == "drop"):
            self.refuse(1, "Nothing was begun.")
            return False
        if isinstance(happened, Key):
            self.tell("The scale has said no weight yet: wait.")
        ready = isinstance(happened, Weighed) or self._cut_off.stirs(self.order)
        if ready and self._ledger.may_try(at_s):
            try:
                self._begin(at_s)
                return True
            except RecordError as error:
                self._ledger.put_off(error, at_s)
        self._look(happened)
        if self._sight.last is None and self._hearing.is_overdue(at_s):
            self.refuse(3, no_weight(self.order, self._sight))
        return False

    def _begin(self, at_s: float) -> None:
        taken, said = self._cut_off.settle(self.order, self._ledger, at_s)
        if taken is None:
            self._ledger.open(Opened(round(at_s * 1000), self.order.terms, self.order.about))
            self._cut_off.look_back(self.number or 0)
        else:
            self._ledger.number, self._ledger.trouble = taken.batch, ""
            self._pour, self._sight = taken.pour, first_sight(taken.facts, taken.followed)
            self._at_least_until_ms = taken.at_least_until_ms
            words = [said_of_it] if (said_of_it := set_back(taken)) else []
            if anew := taken.said_anew(self.order):
                words.append(f"gone on with, and said then: {anew}")
            at_ms = round(at_s * 1000)
            more: list[Fact] = [Noted(at_ms, text) for text in words]
            if taken.altered and NOT_AS_STORED not in taken.pour.doubts:
                more.append(Doubted(at_ms, NOT_AS_STORED))
            self._put((*take_up(taken.facts, at_s, taken.shown), *more), at_s)
        about = self.order.about if taken is None else taken.about
        taught = taught_before(self._journal, self.number or 0, about, self.order.terms.recipe)
        self._coach = self._coach._replace(learning=Learning(taught))
        if said := " ".join(filter(None, (said, self.amiss, damp.said(about)))):
            self.tell(said, beside=taken is None)

    # -- what is seen, and what changes by time alone ------------------------------

    def _look(self, happened: Input) -> None:
        following = is_followed(self._pour, self._sight)
        self._sight = observe(self._sight, happened, following=following)

    def _restless(self, now_s: float) -> bool:
        """Whether the picture changes by time alone: a countdown, a hold, a notice, and
        a weight in motion, which is shown more often than a slow scale tells it."""
        pour, resting = self._pour, self._sight.resting
        counting = pour.stage in ("stir", "split") or (pour.terms.hands_free and resting)
        moving = pour.stage in _WEIGHING and not resting
        silent = pour.stage == "cup" and self._sight.silent(now_s)
        changes = (counting or moving) and not self._is_told(now_s)
        return changes or silent or pour.trouble is not None or bool(self._notice)

    def _is_told(self, now_s: float) -> bool:
        last = self._sight.last
        return last is not None and now_s - last.at_s < TOLD_S

    def _clock_jumped(self, now_s: float) -> bool:
        """Whether UTC was set just now; said, and noted in the record."""
        if now_s - self._watched_s < CLOCK_S:
            return False
        self._watched_s = now_s
        said = (
            ""
            if self._ledger.waits or self.status is not None
            else self._watch.look(self._clock.now())
        )
        if said:
            self.tell(said)
            self._put((Noted(round(now_s * 1000), said),), now_s)
        return bool(said)

    # -- the record ------------------------------------------------------------------

    def _put(self, facts: tuple[Fact, ...], now_s: float) -> None:
        if self.number is not None and any(fact.kind in ("live", "ended") for fact in facts):
            self._keeper.write(self.number, now_s)  # nothing of it comes after the end
            facts = (*self._lessons(now_s), *facts)
        self._know(self._ledger.put(facts, now_s))

    def _lessons(self, now_s: float) -> Iterator[Fact]:
        """What this batch taught, for the cues of later ones."""
        for one in self._coach.learning.lessons:
            yield Learned(round(now_s * 1000), one.component, one.hand_ms, one.drip_ug)

    def _write(self, now_s: float, *, at_once: bool = False) -> bool:
        """Write what waits; true when nothing waits any more."""
        self._know(self._ledger.write(now_s, at_once=at_once))
        return not self._ledger.waits

    def _know(self, facts: list[Fact]) -> None:
        for fact in facts:
            self._pour = evolve(self._pour, fact)

    def _trace(self, happened: Input, decided: bool) -> None:
        """Keep the weight trace, as long as the scale is poured by, and never before the
        facts that belong to it."""
        if isinstance(happened, Weighed) and self._pour.stage in _WEIGHING:
            self._keeper.keep(happened.reading)
        if self.number is None or self._ledger.waits or self._pour.result is not None:
            return
        if decided:
            self._keeper.write(self.number, happened.at_s)
        else:
            self._keeper.write_if_due(self.number, self._sight, happened.at_s)
        if self._keeper.trouble:
            self.tell(f"The weights are not being kept. {self._keeper.trouble}")
            self._keeper.trouble = ""
