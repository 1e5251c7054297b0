"""One stirred batch in several cups: what each input makes true once it is live and is split.

The cups' clock runs: nothing here waits for anybody, nothing has to be weighed, and no word
can undo that the batch is live. Rules:

1. An empty cup that is put on the empty pan is tared; what then comes into it is a share of
   the batch's own cup. It counts with ``go``, with the name of its filler, or when the cup is
   lifted off again.
2. ``split`` alone is a share that nobody weighed, with a mass one that was typed. No share is
   more than there can be left in the cup that it came from.
3. Filler goes in after the stir alone, to consistency: ``go`` weighs what went in, from when
   it was named. Where the scale cannot tell, it is asked about once, and stands as not weighed.
4. A cup that comes back as it went off is that cup, and is not tared. Where its weight leaves
   open which it is, or whether it is an empty one, nothing counts until the builder says it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from mixer.pour.cup_facts import Divided, Filled, Shared
from mixer.pour.cups import MOST_SHARES, SLACK, cups_of, held_ug, left_ug, move, own_cup
from mixer.pour.decision import Decision
from mixer.pour.draft import Draft
from mixer.pour.facts import Noted
from mixer.pour.fillers import Filler, find, start_ug, why_not
from mixer.pour.inputs import Cut, Input, Key, Tick
from mixer.pour.on_scale import (
    Filling,
    Sharing,
    base_of,
    content,
    is_adrift,
    is_doubtful,
    is_filled,
    known_cups,
    may_be,
    may_be_on_scale,
    may_be_own,
)
from mixer.pour.rests import Rest
from mixer.pour.sharing_cue import share_or_filler, which_cup
from mixer.pour.sight import Sight, lightest_cup_ug
from mixer.pour.state import Pour
from mixer.pour.words import grams

TARE_REST_S = 1.0
RESTLESS = "The weight has not come to rest: name the filler once more in a moment."
NOT_KNOWN = "{0} came into a cup that may be no new one: not taken down. If a share, say split {0}."
NOT_TOLD = "The scale does not tell what went in: go once more, and it is noted as not weighed."


def decide(
    pour: Pour, sight: Sight, sharing: Sharing, fillers: Sequence[Filler], happened: Input
) -> tuple[Sharing, Decision]:
    """What stands on the scale from here on; facts and refusals of one input."""
    hand = _Hand(Draft(pour, sight, happened.at_s), sharing, fillers)
    match happened:
        case Cut():
            hand.end("interrupted")
        case Key():
            hand.take(happened)
        case Tick():
            hand.sharing = replace(hand.sharing, free_cup=happened.free_cup)
            hand.look()
        case _:
            hand.look()
    draft = hand.draft
    return hand.sharing, Decision(tuple(draft.facts), draft.refusal, draft.notice, draft.alarm)


class _Hand:
    """One decision: the draft, and what stands on the scale as it goes on."""

    def __init__(self, draft: Draft, sharing: Sharing, fillers: Sequence[Filler]) -> None:
        self.draft, self.sharing, self.fillers = draft, sharing, fillers

    # -- the words ---------------------------------------------------------------------

    def take(self, key: Key) -> None:
        draft = self.draft
        if key.word != "go":
            self.sharing = replace(self.sharing, ending=False)
        match key.word:
            case "go":
                self._go()
            case "split":
                self._split(key)
            case "filler":
                self._name_filler(key)
            case "moved":
                move(draft)
                self._forget_own()
            case "note":
                draft.add(Noted(draft.at_ms, key.text))
            case _:
                draft.refusal = "The cups are live: say go, split, filler NAME, moved or note TEXT."

    def _go(self) -> None:
        sharing, draft = self.sharing, self.draft
        if sharing.filling is not None:
            self._weigh_filler(sharing.filling)
        elif (there := content(sharing, draft.sight, draft.at_s)) is not None:
            if self._is_doubtful():
                draft.refusal = share_or_filler(draft.pour, sharing, there, draft.sight)
            else:
                self._book()
        elif sharing.tare is not None:
            draft.refusal = "Nothing is at rest in this cup yet: pour its share, or take it off."
        elif why := self._why_not_end():
            self.sharing = replace(sharing, ending=True)
            draft.refusal = f"{why}: go once more, and the sharing ends."
        else:
            self.end("go")

    def _why_not_end(self) -> str:
        """Why ``go`` may not be meant to end it; asked once."""
        sharing, pour = self.sharing, self.draft.pour
        if sharing.ending:
            return ""
        if not pour.shares and not pour.filled:
            return "Nothing is shared yet"
        if sharing.alike or (sharing.lost and self._is_heard()):
            return "Which cup is on the scale was not said"
        on = sharing.cup is not None and sharing.cup != own_cup(pour)
        return f"Cup {sharing.cup} is taken down already" if on else ""

    def _split(self, key: Key) -> None:
        if self.sharing.filling is not None:
            self.draft.refusal = "The filler first: go on once it is in."
        elif key.mass_ug is None and content(self.sharing, self.draft.sight, self.draft.at_s):
            self._book()
        elif key.mass_ug is not None:
            self._share(key.mass_ug, "typed")
        else:
            self._share(None, None)

    def _name_filler(self, key: Key) -> None:
        draft = self.draft
        filler = find(self.fillers, key.text)
        if isinstance(filler, str):
            draft.refusal = filler
            return
        if self.sharing.filling is not None:
            draft.refusal = "The filler before it first: go on once it is in."
            return
        cup = self._cup_of(key.cup)
        if cup is None:
            return
        held, there = held_ug(draft.pour, cup), may_be_on_scale(draft.pour, self.sharing, cup)
        start = None if held is None else start_ug(draft.pour, held, filler)
        base = base_of(draft.pour, self.sharing, draft.sight, cup, draft.at_s)
        untold = self._is_heard() and there and base is None
        if key.mass_ug is None and (untold or self._is_unsettled()):
            draft.refusal = RESTLESS
            return
        if key.mass_ug is not None:
            most_ug = start_ug(draft.pour, left_ug(draft.pour) if held is None else held, filler)
            draft.refusal = why_not(key.mass_ug, most_ug, draft.sight.division_ug or 100_000)
            if draft.refusal:
                return
        if there:
            self.sharing = replace(
                self.sharing, cup=cup, alike=(), lost=False, tare=None, seen=None
            )  # fmt: skip
        filling = Filling(cup, filler, start, base)
        if key.mass_ug is not None:
            self._fill(filling, key.mass_ug, "typed", None)
        else:
            self.sharing = replace(self.sharing, filling=filling)

    def _forget_own(self) -> None:
        """Another cup is the batch's own now, of another weight."""
        sharing, own = self.sharing, own_cup(self.draft.pour)
        grosses = {cup: rest for cup, rest in sharing.grosses.items() if cup != own}
        filling = sharing.filling
        if filling is not None and filling.cup == own:
            filling = replace(filling, base=None)
        cup = None if sharing.cup == own else sharing.cup
        self.sharing = replace(sharing, grosses=grosses, filling=filling, cup=cup)

    def _cup_of(self, named: int | None) -> int | None:
        """Which cup the filler is for: the one that was named, else the one on the scale, else
        the one that was made last, where that cannot be mistaken for another."""
        sharing, sight = self.sharing, self.draft.sight
        cups = cups_of(self.draft.pour)
        if named is not None:
            if named in cups:
                return named
            told = ", ".join(map(str, cups))
            self.draft.refusal = f"Cup {named} is none of this batch's: {told}."
            return None
        if content(sharing, sight, self.draft.at_s) is not None and not self._is_doubtful():
            return self._book()
        if sharing.cup is not None:
            return sharing.cup
        if not self._is_heard():
            return cups[-1]
        if self._is_unsettled():
            self.draft.refusal = RESTLESS
        elif not sharing.empty or len(cups) > 2:
            self.draft.refusal = which_cup(may_be(self.draft.pour, sharing))
        else:
            return cups[-1]
        return None

    def _is_doubtful(self) -> bool:
        return is_doubtful(self.draft.pour, self.sharing)

    def _is_heard(self) -> bool:
        sight, now_s = self.draft.sight, self.draft.at_s
        last = None if sight.silent(now_s) or sight.fault_now(now_s) else sight.last
        return last is not None and not last.scale_tared

    def _is_unsettled(self) -> bool:
        """Whether something is on the scale that did not yet stand for long enough."""
        there = self.sharing
        told = there.cup is not None or there.alike or there.tare is not None or there.lost
        return not told and self._is_heard() and not self._is_pan_empty()

    def end(self, how: str) -> None:
        """Nothing more is shared here; a filler that was named went in."""
        filling = self.sharing.filling
        if filling is not None:
            self._fill(filling, None, None, None)
        elif how != "go" and self.sharing.seen is not None and not self._is_doubtful():
            self._book(self.sharing.seen)
        self.draft.add(Divided(self.draft.at_ms, how))

    # -- what the scale shows ------------------------------------------------------------

    def look(self) -> None:
        """A cup that is put on or lifted off; a share counts when its cup is lifted."""
        sight, sharing, now_s = self.draft.sight, self.sharing, self.draft.at_s
        if sight.last is None or sight.silent(now_s) or sight.fault_now(now_s) is not None:
            # What is shown after a silence may be counted from another zero.
            filling = sharing.filling and replace(sharing.filling, base=None)
            self.sharing = Sharing(
                sharing.free_cup, lost=True, filling=filling, ending=sharing.ending
            )
            return
        if self._is_pan_empty():
            self._pan_is_empty()
            return
        rest = sight.rest if sight.resting else None
        if rest is None or sight.last.scale_tared:
            return
        if there := content(sharing, sight, now_s):
            self.sharing = replace(sharing, seen=there)
        elif sharing.filling is not None:
            self._follow(sharing.filling, rest)
        elif rest.at_s - rest.since_s >= TARE_REST_S:
            self._tell_which(rest)

    def _is_pan_empty(self) -> bool:
        sight, tared = self.draft.sight, self.draft.pour.tared
        zero_ug = (tared.zero_ug if tared else None) or 0
        return sight.upper_ug - zero_ug < lightest_cup_ug(sight.division_ug)

    def _pan_is_empty(self) -> None:
        sharing, draft = self.sharing, self.draft
        if sharing.seen is not None and sharing.tare is not None and self._is_doubtful():
            came = grams(sharing.seen.mass_ug - sharing.tare.mass_ug, draft.sight.division_ug)
            draft.notice, draft.alarm = NOT_KNOWN.format(came), True
        elif sharing.seen is not None:
            if sharing.free_cup:
                self._book(sharing.seen)
            return
        self.sharing = replace(
            sharing, empty=True, tare=None, seen=None, cup=None, alike=(), lost=False
        )

    def _follow(self, filling: Filling, rest: Rest) -> None:
        """Whether what came to the scale is the cup that filler is going into."""
        sharing, pour, step = self.sharing, self.draft.pour, self.draft.sight.division_ug
        if sharing.cup is not None or sharing.lost or filling.base is None:
            return
        if is_filled(pour, sharing, filling, rest, step):
            self.sharing = replace(sharing, empty=False, cup=filling.cup)
        elif rest.at_s - rest.since_s >= TARE_REST_S:
            self.sharing = replace(sharing, empty=False, lost=True)

    def _tell_which(self, rest: Rest) -> None:
        """Which cup it is that stands there at rest, and whether it is an empty one."""
        sharing, pour, step = self.sharing, self.draft.pour, self.draft.sight.division_ug
        first = not (sharing.empty or sharing.tare or sharing.alike)
        if sharing.cup is not None:
            self._remember(sharing.cup, rest)
        elif first and self._is_first_own(rest):
            self._remember(own_cup(pour), rest)
        elif first:
            self.sharing = replace(sharing, lost=True)
        elif not sharing.alike and (
            sharing.tare is None or rest.mass_ug < sharing.tare.mass_ug - 2 * step
        ):
            known = known_cups(pour, sharing, rest, step)
            cup = known[0] if len(known) == 1 else None
            as_now = dict.fromkeys(known, rest)
            grosses = {**sharing.grosses, **as_now} if cup else {**as_now, **sharing.grosses}
            self.sharing = replace(
                sharing, empty=False, tare=None if known else rest, seen=None, cup=cup,
                alike=() if cup else known, grosses=grosses,
            )  # fmt: skip

    def _is_first_own(self, rest: Rest) -> bool:
        """Whether it is the batch's own cup, which stands there from the pour or was put back
        before the pan was seen empty; where nobody knows, by its weight alone."""
        sharing, pour, step = self.sharing, self.draft.pour, self.draft.sight.division_ug
        if sharing.lost:
            return not pour.shares and bool(known_cups(pour, sharing, rest, step))
        return may_be_own(pour, rest)

    def _remember(self, cup: int, rest: Rest) -> None:
        """The weight of a cup that is known: it is known by it when it comes back. What came in
        may be a filler that is yet to be named."""
        sharing = self.sharing
        known = sharing.grosses.get(cup)
        if known is None or rest.mass_ug < known.mass_ug or is_adrift(self.draft.pour, cup):
            sharing = replace(sharing, grosses={**sharing.grosses, cup: rest})
        self.sharing = replace(sharing, cup=cup, lost=False)

    # -- the facts -----------------------------------------------------------------------

    def _book(self, rest: Rest | None = None) -> int | None:
        """Take down the share in the cup that was tared; its number, ``None`` if that cannot
        be."""
        sharing, draft = self.sharing, self.draft
        on = rest is None
        rest = rest or content(sharing, draft.sight, draft.at_s)
        assert rest is not None
        assert sharing.tare is not None
        mass_ug = rest.mass_ug - sharing.tare.mass_ug
        cup = self._share(mass_ug, "scale", sharing.tare, rest)
        if not sharing.free_cup:
            return None  # it is asked for once more
        grosses = {**self.sharing.grosses, **({} if cup is None else {cup: rest})}
        self.sharing = replace(
            self.sharing, tare=None, seen=None, empty=not on, cup=cup if on else None,
            lost=on and cup is None,
            grosses=grosses,
        )  # fmt: skip
        return cup

    def _share(
        self,
        mass_ug: int | None,
        weights: str | None,
        tare: Rest | None = None,
        rest: Rest | None = None,
    ) -> int | None:
        draft, cup, of = self.draft, self.sharing.free_cup, own_cup(self.draft.pour)
        step = draft.sight.division_ug or 100_000
        most_ug = left_ug(draft.pour) + round(SLACK * sum(draft.pour.amounts_ug)) + 2 * step
        if len(draft.pour.shares) >= MOST_SHARES:
            draft.refusal = f"A batch is split into {MOST_SHARES + 1} cups at the most."
        elif not cup:
            draft.refusal = "One moment, and once more: the number of the cup is not known yet."
        elif mass_ug is not None and mass_ug > most_ug:
            draft.refusal = (
                f"{grams(mass_ug, step)} is more than cup {of} had left, "
                f"{grams(left_ug(draft.pour), step)}: not taken down. Say split for a share that "
                "is not weighed."
            )
            draft.alarm = True
        elif mass_ug is not None and mass_ug <= 0:
            draft.refusal = "That is no share: give a mass above zero, or none."
        else:
            text, tare_ug, gross_ug = "", None, None
            if tare is not None and rest is not None:
                text, tare_ug, gross_ug = rest.text, tare.mass_ug, rest.mass_ug
            known = "scale" if weights == "scale" else "typed" if weights else None
            draft.add(
                Shared(draft.at_ms, cup, of, mass_ug, known, tare_ug, gross_ug, text)  # type: ignore[arg-type]
            )
            told = "not weighed" if mass_ug is None else grams(mass_ug, step)
            draft.notice = f"Cup {cup}: {told}. Write {cup} on it."
            # What its own cup weighed with that share in it, it weighs no more.
            grosses = {one: was for one, was in self.sharing.grosses.items() if one != of}
            self.sharing = replace(self.sharing, free_cup=0, grosses=grosses)
            return cup
        return None

    def _weigh_filler(self, filling: Filling) -> None:
        draft, base = self.draft, filling.base
        rest = draft.sight.recent_rest(draft.at_s)
        step = draft.sight.division_ug
        if rest is not None:
            self._follow(filling, rest)
        told = rest is not None and base is not None and rest.frame == base.frame
        told = told and self.sharing.cup == filling.cup
        if told and rest and base and rest.mass_ug - base.mass_ug > 2 * step:
            self._fill(filling, rest.mass_ug - base.mass_ug, "scale", rest)
        elif not filling.asked:
            self.sharing = replace(self.sharing, filling=replace(filling, asked=True))
            draft.refusal = NOT_TOLD
        else:
            self._fill(filling, None, None, None)

    def _fill(
        self, filling: Filling, mass_ug: int | None, weights: str | None, rest: Rest | None
    ) -> None:
        draft, filler, step = self.draft, filling.filler, self.draft.sight.division_ug or 100_000
        base_ug, gross_ug, text = None, None, ""
        if rest is not None and filling.base is not None:
            base_ug, gross_ug, text = filling.base.mass_ug, rest.mass_ug, rest.text
        draft.add(
            Filled(
                draft.at_ms, filling.cup, filler.name, mass_ug, weights,  # type: ignore[arg-type]
                filling.start_ug, base_ug, gross_ug, text, dict(filler.about),
            )
        )  # fmt: skip
        grosses = dict(self.sharing.grosses)
        grosses.pop(filling.cup, None)  # what it weighs now, only the scale can say
        if rest is not None:
            grosses[filling.cup] = rest
        self.sharing = replace(self.sharing, filling=None, grosses=grosses)
        told = "not weighed" if mass_ug is None else grams(mass_ug, step)
        draft.notice = f"Cup {filling.cup}: {filler.name}, {told}."
