"""What becomes of batches that were cut off: one is carried on, the others are ended.

The newest is taken up where it is what is now asked for and its cup is not of yesterday.
Must never end a batch before a scale has answered, for a wrong port is soon typed.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from mixer.app.bench.ledger import Ledger
from mixer.app.bench.left_open import LeftOpen, find
from mixer.app.clock import Clock
from mixer.app.life.ages import span
from mixer.app.request import Request
from mixer.app.resolve import Order
from mixer.pour.afresh import give_up
from mixer.pour.facts import Doubted, Ended, Fact, Tared
from mixer.record.envelope import RecordError
from mixer.record.reader import Reader
from mixer.record.views import Moment, batch_rows

ALTERED = "Its facts are not as they were stored: look at what is in the cup."
NOT_AS_STORED = "facts of it were altered or taken out of the record"
SET_BACK = "The computer’s clock was set back meanwhile; ages are counted without it."
AT_LEAST = (
    "The computer’s clock was set back meanwhile: the age of the hardener in the cup is what "
    "is proven, and it may be older; look at it, feel it, or discard it."
)

LOOKED_BACK = 8  # batches (our choice)
ALIKE_UG = 500_000  # a last drop, and the scale's own (our choice)
MAY_BE_FULL = (
    "This cup weighs what that of an earlier batch weighed with all that was in it: if it is not "
    "clean and empty, drop this batch and take another cup."
)
STILL_FULL = "the empty cup weighs as the cup of batch {} did with what was in it"


class CutOff:
    """The batches of a record that were cut off, looked for when first asked about."""

    def __init__(self, record: Reader, clock: Clock) -> None:
        self.trouble = ""  # why they, or some of them, could not be looked at
        self._record, self._clock = record, clock
        self._found: list[LeftOpen] | None = None
        self._full: dict[int, int] = {}  # what the cups of earlier batches weigh with all in them

    def stirs(self, order: Order) -> bool:
        """Whether the one that this order carries on is being stirred: it needs no scale."""
        taken = _taken(self._all(), order)
        return taken is not None and taken.pour.stage == "stir"

    def goes_on(self, order: Order) -> bool:
        """Whether there is one that this order carries on."""
        return _taken(self._all(), order) is not None

    def left_ug(self, order: Order) -> int | None:
        """What the scale displayed last of the one that this order carries on."""
        taken = _taken(self._all(), order)
        return taken.shown.mass_ug if taken is not None and taken.shown is not None else None

    def settle(self, order: Order, ledger: Ledger, at_s: float) -> tuple[LeftOpen | None, str]:
        """End all but the one that this order carries on; that one, and a sentence.

        :class:`RecordError` where the record does not take it: it can be called again.
        """
        found = self._all()
        taken = _taken(found, order)
        ended = [left for left in found if left is not taken]
        self._found = None  # some may be ended when the record takes no more
        for left in ended:
            ledger.append_to(left.batch, give_up(left.facts, at_s, left.shown))
            self._full |= _full(left)
        said = [self.trouble] if self.trouble else []
        if ended:
            said += [_ended(left, _why(left, found[-1])) for left in ended]
        if taken is not None:
            said.append(f"Batch {taken.batch} goes on: it was cut off {taken.ago}.")
            if taken.altered:
                said.append(ALTERED)
            said.append(set_back(taken))
        return taken, " ".join(filter(None, said))

    def look_back(self, batch: int) -> None:
        """What the cups of the batches before this one weigh that were never closed."""
        for number in range(max(1, batch - LOOKED_BACK), batch):
            with suppress(RecordError):
                for row in batch_rows(self._record.entries(number)):
                    weighed_ug = sum(row.amounts_ug.values())
                    if row.closed_at is None and row.tare_ug and weighed_ug > ALIKE_UG:
                        self._full.setdefault(number, row.tare_ug + weighed_ug)

    def doubted(self, facts: Sequence[Fact]) -> tuple[Fact, ...]:
        """These facts, with a doubt where the cup that they tare weighs what that of an earlier
        batch weighed with all that was in it."""
        doubts = [
            Doubted(fact.at_ms, STILL_FULL.format(batch))
            for fact in facts
            if isinstance(fact, Tared)
            for batch, full_ug in self._full.items()
            if abs(fact.tare_ug - full_ug) <= max(ALIKE_UG, 3 * fact.division_ug)
        ]
        return (*facts, *doubts[:1])

    def _all(self) -> list[LeftOpen]:
        if self._found is None:
            try:
                self._found, self.trouble = find(self._record, self._clock.now())
            except RecordError as error:  # it must not keep a new batch from being poured
                self._found, self.trouble = [], error.say
        return self._found


def unfinished(record: Reader, now: Moment) -> tuple[Request | None, str]:
    """For the start: what the newest asked for, if it can be carried on, and a sentence."""
    try:
        found, passed = find(record, now)
    except RecordError as error:
        return None, error.say
    if not found or not found[-1].fresh or (request := found[-1].request()) is None:
        return None, passed
    left = found[-1]
    say = f"{_cut_off(left)}: leave its cup as it is, and start to go on with it."
    return request, " ".join(filter(None, (say, ALTERED if left.altered else "", passed)))


def held_up(record: Reader, now: Moment) -> str:
    """Of a record that takes nothing: each batch that was cut off, how old the hardener in its
    cup is, and what is to be done; empty where there is none."""
    found, passed = find(record, now)
    said = []
    for left in found:
        contact_ms = left.pour.contact_ms
        age = span((now.at_ms - contact_ms) / 1000) if contact_ms is not None else ""
        clock = f", and the clock of its cup runs on: hardener met resin {age} ago" if age else ""
        to_do = "put its cup aside"
        if left is found[-1] and left.fresh:
            to_do = (
                "leave its cup as it is, and once the record can be written to start again to go "
                "on with it"
            )
        said += [f"{_cut_off(left)}{clock}; {to_do}.", set_back(left)]
        said += [ALTERED] if left.altered else []
    return " ".join(filter(None, (*said, passed)))


def _cut_off(left: LeftOpen) -> str:
    request = left.request()
    what = f"{request.size if request else 'some'} of {left.about.get('resin_system')}"
    return f"Batch {left.batch}, {what}, was cut off {left.ago}"


def set_back(left: LeftOpen) -> str:
    """A sentence where UTC is behind what its facts say, else empty."""
    contact_ms, until_ms = left.pour.contact_ms, left.at_least_until_ms
    if contact_ms is not None and until_ms is not None and contact_ms <= until_ms:
        return AT_LEAST
    return SET_BACK if left.set_back else ""


def _ended(left: LeftOpen, why: str) -> str:
    """That it is ended, why, and what its cup holds."""
    names = [one.name for one in left.pour.terms.recipe.components]
    facts = give_up(left.facts, left.facts[-1].at_ms / 1000, left.shown)
    held = next((f.amounts_ug for f in facts if isinstance(f, Ended)), ())
    holds = " and ".join(
        f"{ug / 1e6:.1f} g of {name}" for name, ug in zip(names, held, strict=False) if ug > 0
    )
    cup = f" Its cup holds {holds}: put it aside." if holds else ""
    return f"Batch {left.batch} was cut off; it is ended, as {why}.{cup}"


def _full(left: LeftOpen) -> dict[int, int]:
    """What its cup weighs with what is in it, where something is."""
    tared = left.pour.tared
    if tared is None:
        return {}
    weighed_ug = tared.tare_ug + sum(left.pour.amounts_ug)
    full_ug = max(weighed_ug, left.shown.mass_ug + left.pour.shift_ug if left.shown else 0)
    return {left.batch: full_ug} if full_ug - tared.tare_ug > ALIKE_UG else {}


def _why(left: LeftOpen, newest: LeftOpen) -> str:
    if left is not newest:
        return "another was begun after it"
    if left.pour.tared is None:
        return "its cup was never weighed"
    if not left.fresh:
        return "that is more than 8 h ago by this computer’s clock"
    return "what is asked for now is new"


def _taken(found: list[LeftOpen], order: Order) -> LeftOpen | None:
    newest = found[-1] if found else None
    return newest if newest is not None and newest.fresh and newest.is_what(order) else None


def gone_on_with(request: Request, record: Reader, now: Moment) -> Request:
    """What a batch that was cut off asked for, where this asks for the same by its cloth; else
    the request itself."""
    offer, _ = unfinished(record, now)
    if offer is None or not is_same_but_for_its_size(offer, request):
        return request
    return offer


def is_same_but_for_its_size(offer: Request, request: Request) -> bool:
    """Whether both ask for the same batch, one of them by its cloth. Of another layup, where
    that is said, it is another.

    >>> cut_off = Request("r", "83 g", "p", layup="rib")
    >>> is_same_but_for_its_size(cut_off, Request("r", "kit", "p", left="resin=90g"))
    True
    >>> is_same_but_for_its_size(cut_off, Request("r", "kit", "p", layup="wing"))
    False
    """
    return request == replace(
        offer,
        size=request.size,
        left=request.left,
        layup=request.layup and offer.layup,
        plies=request.plies and offer.plies,
    )
