"""One batch at a scale with no cable: the builder says what it shows, nothing is read.

All else is as for any other batch (:mod:`mixer.app.bench.batch`). It is opened with the first word,
for there is no first reading; one that was cut off goes on at once.
"""

from __future__ import annotations

from dataclasses import replace

from devices.readings import Reading
from mixer.app.bench.batch import Batch
from mixer.app.clock import Clock
from mixer.app.picture import Display, Picture, ScaleView
from mixer.app.resolve import Order
from mixer.pour import typed, typed_cue
from mixer.pour.decision import Decision
from mixer.pour.inputs import Cut, Input, Key
from mixer.pour.shows import Entry, ask_of, division_ug, known_ug
from mixer.pour.sight import Sight
from mixer.pour.words import grams
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal

AGE_S = 1.0  # how often the age of the hardener in the cup is shown anew


class TypedBatch(Batch):
    """As :class:`Batch`; no scale is waited for, however long the builder takes."""

    def __init__(
        self, order: Order, journal: Journal, clock: Clock, give_up_s: float | None
    ) -> None:
        super().__init__(order, journal, clock, None)
        self._entry = Entry()
        self._begun_s = 0.0  # when it was opened, and all was said that there is to say of that
        self._said_since = False  # a figure, since the last other word
        self._shown_s = clock.age_s()

    def picture(self) -> Picture:
        """The batch as it stands now."""
        now_s = self._shown_s = self._clock.age_s()
        if self._pour.stage == "split":  # nothing is read, and nothing needs to be
            advice = self._splitting.advise(self._pour, Sight(), now_s)
        else:
            advice = typed_cue.advise(self._pour, self._entry, now_s)
        held = "by-hand" if self._pour.held_by_hand else None
        if self._pour.stage == "cup" and self._assumed:
            step = grams(division_ug(self._pour), division_ug(self._pour))
            assumed = f" Steps of {step} are assumed; else begin with port typed:0.01g or the like."
            advice = replace(advice, say=advice.say + assumed)
        if self._ledger.trouble:
            held, advice = "record", replace(advice, cue="wait", say=self._ledger.trouble)
        elif now_s < self._notice_until_s:
            advice = replace(advice, say=self._notice)
        else:
            self._notice = ""
        return self._drawn(
            self._seen(now_s), advice, now_s, held=held, scale=ScaleView("typed"),
            display=self._display(now_s), rings=self._rings,
        )  # fmt: skip

    @property
    def _assumed(self) -> bool:
        """Whether nobody has said what the steps of the display are."""
        said = self.order.port.partition(":")[2].strip()
        return not said and self.order.scale.division_ug is None

    def _seen(self, now_s: float) -> Sight:
        """What was said of the display, as if a scale had said it."""
        known = known_ug(self._pour)
        gross = known if self._entry.gross_ug is None else self._entry.gross_ug
        step = division_ug(self._pour)
        return Sight(last=Reading(gross, grams(gross, step), "g", step, True, at_s=now_s))

    def _display(self, now_s: float) -> Display:
        pour = replace(self._pour, held_by_hand=False)
        ask = ask_of(pour, now_s)
        asked = pour.parting or pour.called
        call = 0 if asked is None else asked.at_ms
        if ask is None:
            return Display(self._entry.text, call=call)
        called = pour.called
        free = called is None or (called.component == 0 and not called.addition)
        low, high = (None, None) if free else (ask.low_ug, ask.high_ug)
        shows = self._entry.text
        wanted = not self._pour.held_by_hand
        return Display(shows, wanted, ask.target_ug, low, high, ask.as_asked, call)

    def _decide(self, happened: Input, double: bool) -> Decision:
        if isinstance(happened, Key):
            if happened.at_s > self._begun_s:
                self._notice_until_s = 0.0  # what was said of an earlier word
            double = double and not self._said_since  # no echo has a figure in between
            self._said_since = happened.word == "shows"
        if self._pour.stage == "split":
            return self._share(happened, double)
        self._entry, decision = typed.decide(self._pour, self._entry, happened, double)
        return decision

    def _open(self, happened: Input) -> bool:
        at_s = happened.at_s
        if isinstance(happened, Cut) or (isinstance(happened, Key) and happened.word == "drop"):
            self.refuse(1, "Nothing was begun.")
            return False
        goes_on = self._cut_off.goes_on(self.order)
        if isinstance(happened, Key) and happened.word == "jug" and not goes_on:
            decision = self._decide(happened, False)  # no batch begins with what was scanned
            self.tell(decision.refusal)
            self._rings += decision.alarm
            return False
        if not isinstance(happened, Key) and not goes_on:
            return False
        if self._ledger.may_try(at_s):
            try:
                self._begin(at_s)
                self._begun_s = at_s
                return True
            except RecordError as error:
                self._ledger.put_off(error, at_s)
        return False

    def _restless(self, now_s: float) -> bool:
        """Whether the picture changes by time alone."""
        pour = self._pour
        counting = pour.stage == "stir" or pour.parting is not None
        aging = pour.contact_ms is not None and now_s - self._shown_s >= AGE_S
        return counting or aging or bool(self._notice)
