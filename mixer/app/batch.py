"""One batch at the bench: what happens goes in, facts go to the record, a picture comes out.

Owned by the bench thread. A fact counts once it is on disk: while the record cannot be
written, the facts that were decided wait in their order, are tried again, and nothing
further is decided. So none is lost, doubled, or shown before its time. It must never
open a port, start a thread, or read a clock but the one that is handed in.
"""

from __future__ import annotations

from dataclasses import replace

from devices.readings import Fault, FaultKind
from mixer.app import paint
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.app.resolve import Order
from mixer.app.toml_table import LONGEST_TEXT
from mixer.pour.coach import Advice, Coach, advise
from mixer.pour.decide import decide
from mixer.pour.facts import Fact, Opened, to_plain
from mixer.pour.inputs import Cut, Failed, Input, Key, Tick, Weighed
from mixer.pour.sight import SILENT_AFTER_S, Sight, is_double_press, observe, shown
from mixer.pour.state import Pour, begin, evolve
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal

STATION = "bench"
NOTICE_S = 4.0
#: For the first weight. Real seconds, however fast the clock: a simulated bench, which
#: alone has a faster one, is a process that takes as long to start as it takes.
FIRST_READING_S = 5.0
TOLD_S = 0.15  # a reading so new has been shown, and the next tick may wait for another
RETRY_S = 0.5  # between two tries to write what the record did not take

#: Faults that come from a scale that is there and weighs, if not this.
_THERE = (FaultKind.OVERLOAD, FaultKind.UNDERLOAD, FaultKind.SCALE_ERROR)


class Batch:
    """``number`` is the batch's in the record; ``None`` until the first reading opens it.

    ``give_up_s`` is how long a scale that has gone is waited for in mid-pour, in seconds
    of the clock; ``None``: for ever, as in the window.
    """

    def __init__(
        self, order: Order, journal: Journal, clock: Clock, give_up_s: float | None
    ) -> None:
        self.order = order
        self.number: int | None = None
        self.refusal = ""  # why it was never opened
        self._journal, self._clock, self._give_up_s = journal, clock, give_up_s
        self._pour: Pour = begin(Opened(0, order.terms))
        self._sight, self._coach = Sight(), Coach()
        self._refused: int | None = None
        self._asked_s = self._heard_s = clock.age_s()
        self._notice, self._notice_until_s = "", 0.0
        self._waiting: list[tuple[Entry, Fact]] = []
        self._unwritten, self._try_at_s = "", 0.0

    @property
    def status(self) -> int | None:
        """``None`` while it is on; then 0, 1, 2 or 3 as the command line promises."""
        result = self._pour.result
        if result is None:
            return self._refused
        if self._pour.stage == "live":
            return 0 if result.verdict == "in-band" else 1
        return 3 if getattr(result, "how", "") == "scale-lost" else 1

    @property
    def recording(self) -> str:
        """Why the newest facts are not in the record yet, or empty."""
        return self._unwritten

    def stir_is_over(self, now_s: float) -> bool:
        """Whether the next tick makes the cup live, so that it needs a number."""
        pour = self._pour
        begun_ms = pour.stir_from_ms
        return pour.stage == "stir" and now_s * 1000 >= (begun_ms or 0) + pour.stir_ms

    def take(self, happened: Input) -> bool:
        """Whatever happens at the bench. True where there is something new to show."""
        if isinstance(happened, Weighed) or (
            isinstance(happened, Failed) and happened.fault.kind in _THERE
        ):
            self._heard_s = happened.at_s
        if self.number is None and not self._open(happened):
            return True
        if not self._write(happened.at_s):
            self._look(happened)
            if isinstance(happened, Key):
                self.tell(f"{happened.word} was not taken. {self._unwritten}")
            return True
        refusal = _unfit_note(happened)
        if refusal:
            self.tell(refusal)
            return True
        double = isinstance(happened, Key) and is_double_press(self._sight, happened)
        self._look(happened)
        decision = decide(self._pour, self._sight, happened, double)
        if decision.refusal:
            self.tell(decision.refusal)
        self._put(decision.facts, happened.at_s)
        if self._lost(happened.at_s):
            self.take(Cut(happened.at_s, "scale-lost"))
        news = bool(decision.facts) or not isinstance(happened, Tick)
        return news or self._restless(happened.at_s)

    def cut(self, why: str) -> str:
        """End it now; a sentence where the record could not be told so, else empty."""
        now_s = self._clock.age_s()
        if self.number is not None and self._write(now_s, at_once=True):
            self.take(Key(now_s, "note", f"program ended: {why}"))
        if self._write(now_s, at_once=True):
            self.take(Cut(now_s, "interrupted"))
        return f"That the batch ended is not recorded. {self._unwritten}" if self._waiting else ""

    def refuse(self, status: int, sentence: str) -> None:
        """Never open it: the exit status, and why, in one sentence."""
        self._refused, self.refusal = status, sentence

    def tell(self, sentence: str) -> None:
        """Say this for a while in the place of what else there is to say."""
        self._notice, self._notice_until_s = sentence, self._clock.age_s() + NOTICE_S

    def picture(self) -> Picture:
        """The batch as it stands now."""
        now_s = self._clock.age_s()
        self._coach, advice = advise(self._pour, self._sight, self._coach, now_s)
        self._sight = shown(self._sight, advice.cue, now_s)
        held, advice = paint.held(self._pour, advice, self._unheard(now_s))
        if self._unwritten:
            held = "record"
            advice = Advice("stop" if self._sight.streaming else "wait", self._unwritten)
        elif now_s < self._notice_until_s:
            advice = replace(advice, say=self._notice)
        else:
            self._notice = ""
        picture = paint.picture(self._pour, self._sight, advice, self.number, now_s)
        scale = paint.scale_view(self._sight, now_s)
        return paint.titled(replace(picture, held=held, scale=scale), self.order)

    # -- before it is opened -------------------------------------------------------

    def _open(self, happened: Input) -> bool:
        """Open it in the record with the first reading; false until that is done."""
        at_s = happened.at_s
        if isinstance(happened, Cut) or (isinstance(happened, Key) and happened.word == "drop"):
            self.refuse(1, "Nothing was begun.")
            return False
        if isinstance(happened, Key):
            self.tell("The scale has said no weight yet: wait.")
        if isinstance(happened, Weighed) and at_s >= self._try_at_s:
            opened = Opened(round(at_s * 1000), self.order.terms, self.order.about)
            try:
                self.number = self._journal.open_batch(self._entry(opened))
                self._unwritten = ""
                return True
            except RecordError as error:
                self._put_off(error, at_s)
        self._look(happened)
        waited_s = (at_s - self._asked_s) / self._clock.speed
        if self._sight.last is None and waited_s > FIRST_READING_S:
            self.refuse(3, self._no_weight())
        return False

    def _no_weight(self) -> str:
        fault, scale = self._sight.fault, self.order.scale
        line = f"{scale.baud} {scale.bytesize}{scale.parity}{scale.stopbits:g}"
        sent = fault.say if fault else "It sent nothing: is the scale on, and set so?"
        return (
            f"No weight came from {self.order.port} within {FIRST_READING_S:g} s, "
            f"asked with {scale.ask} at {line}. {sent}"
        )

    # -- the scale's absence, and what is said for a while ------------------------------

    def _look(self, happened: Input) -> None:
        following = self._pour.stage == "pour" and self._pour.trouble is None
        self._sight = observe(self._sight, happened, following=following)

    def _unheard(self, now_s: float) -> Fault | str | None:
        """Why there is no weight at this moment, or ``None``."""
        fault = self._sight.fault_now(now_s)
        if fault is not None:
            return fault
        if self._sight.last is not None:
            return "silent" if self._sight.silent(now_s) else None
        waited_s = (now_s - self._asked_s) / self._clock.speed
        return "silent" if waited_s > SILENT_AFTER_S else None

    def _lost(self, now_s: float) -> bool:
        """Whether the scale has been away for longer than it is waited for."""
        limit_s = self._give_up_s
        weighing = self._pour.stage in ("cup", "pour")
        return limit_s is not None and weighing and now_s - self._heard_s > limit_s

    def _restless(self, now_s: float) -> bool:
        """Whether the picture changes by time alone: a countdown, a hold, a notice, and
        a weight in motion, which is shown more often than a slow scale tells it."""
        pour, last = self._pour, self._sight.last
        resting = self._sight.resting
        counting = pour.stage == "stir" or (pour.terms.hands_free and resting)
        told = last is not None and now_s - last.at_s < TOLD_S
        moving = pour.stage in ("cup", "pour") and not resting and not told
        return counting or moving or pour.trouble is not None or bool(self._notice)

    # -- the record ------------------------------------------------------------------

    def _put(self, facts: tuple[Fact, ...], now_s: float) -> None:
        self._waiting = [(self._entry(fact), fact) for fact in facts]
        self._write(now_s, at_once=True)

    def _write(self, now_s: float, *, at_once: bool = False) -> bool:
        """Write what waits, and count it as true once it is on disk; true when none waits."""
        if not self._waiting:
            return True
        if not at_once and now_s < self._try_at_s:
            return False
        try:
            self._journal.append([entry for entry, _ in self._waiting])
        except RecordError as error:
            self._put_off(error, now_s)
            return False
        for _, fact in self._waiting:
            self._pour = evolve(self._pour, fact)
        self._waiting, self._unwritten = [], ""
        return True

    def _put_off(self, error: RecordError, now_s: float) -> None:
        self._unwritten, self._try_at_s = error.say, now_s + RETRY_S

    def _entry(self, fact: Fact) -> Entry:
        return Entry(
            kind=fact.kind,
            data=to_plain(fact),
            at_ms=fact.at_ms,
            boot=self._clock.boot,
            utc=self._clock.utc(),
            batch=self.number or 0,
            station=STATION,
        )


def one_line(text: str) -> str:
    """Words as the record can keep them: printable, and on one line.

    >>> one_line("too\\twarm\\x00 today ")
    'too warm today'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _unfit_note(happened: Input) -> str:
    if not isinstance(happened, Key) or happened.word != "note":
        return ""
    if not happened.text:
        return "A note needs words: note TEXT."
    if len(happened.text) > LONGEST_TEXT:
        long = len(happened.text)
        return f"The note was not taken: it has {long} characters, up to {LONGEST_TEXT} are."
    return ""
