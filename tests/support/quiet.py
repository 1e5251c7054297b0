"""A bench without noise: what is really in the cup, and a scale that only rounds.

All is data, so that the laws of a pour can be hard ones. What no program could know
(another jug than the one asked for, something added while the cup was away) does not
happen here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from devices.readings import Fault, FaultKind, Reading
from mixer.pour.bands import errors_of, hardener_limits
from mixer.pour.facts import Begun, Called, Fact, Jug
from mixer.pour.inputs import Failed, Key, Tick, Weighed
from mixer.pour.recipe import Recipe, Terms
from mixer.pour.state import fold
from support.pouring import Guide, terms

D_UG = 100_000
CUP_UG = 12_000_000
DROP_UG = 50_000
STEP_S = 0.2
ORDER = ("cup", "pour", "stir", "live", "ended")
CUES = {
    "clear",
    "place",
    "lift",
    "pour",
    "ease",
    "trickle",
    "stop",
    "wait",
    "in-band",
    "over",
    "part",
    "next",
    "stir",
    "go",
    "share",
    "fill",
}


def _from_a_wrong_jug(facts: list[Fact]) -> bool:
    """Whether a stream began when the last tag scanned for its component was another's."""
    last: Jug | None = None
    wrong = False
    for fact in facts:
        if isinstance(fact, Jug):
            last = fact
        elif isinstance(fact, Called) and last is not None and last.called != fact.component:
            last = None
        elif isinstance(fact, Begun) and last is not None and last.called == fact.component:
            wrong = wrong or last.component != fact.component
    return wrong


@dataclass(frozen=True)
class Mishap:
    """``what`` befalls the scale, for how long, and whether it is put right at once."""

    what: str
    for_s: float
    mended: bool


class QuietBench:
    """One batch, and whoever pours it. Everything is followed by :meth:`look`."""

    def __init__(
        self,
        recipe: Recipe,
        hands_free: bool,
        cup_most_ug: int | None = None,
        size_g: float = 60,
    ) -> None:
        what = terms(size_g, recipe=recipe, hands_free=hands_free)
        self.guide = self.make_guide(replace(what, cup_most_ug=cup_most_ug))
        self.now_s = 0.0
        self.pushes = 0
        self.cup_on = False
        self.truth_ug = dict.fromkeys((c.name for c in recipe.components), 0)
        self.offset_ug = 0  # what the scale shows less than it carries
        self.late = 0  # steps by which the display is late
        self._shown: list[tuple[int, bool]] = []
        self._cues: list[tuple[str, str]] = []
        self.unit, self.tared = "g", False
        self._stage = 0
        self.rest(2.0)
        self.cup_on = True
        self.rest(3.0)

    def make_guide(self, what: Terms) -> Guide:
        return Guide(what)

    @property
    def on_pan_ug(self) -> int:
        return CUP_UG + sum(self.truth_ug.values()) if self.cup_on else 0

    @property
    def over(self) -> bool:
        return self.guide.pour.stage in ("live", "ended")

    def rest(self, for_s: float) -> None:
        self._cues = []  # what was told before this is no longer obeyed
        for _ in range(round(for_s / STEP_S)):
            self._say_weight(still=True)

    def stream(self, name: str, mass_ug: int, rate_g_s: float) -> None:
        self._cues = []
        per_step = round(rate_g_s * 1e6 * STEP_S)
        while mass_ug > 0 and self.cup_on:
            self.truth_ug[name] += min(per_step, mass_ug)
            mass_ug -= per_step
            self._say_weight(still=False)

    def obey(self, for_s: float, rate_g_s: float) -> None:
        """A hand that does what it is told, two steps late, jug by jug."""
        for _ in range(max(1, round(for_s / STEP_S))):
            self._cues = [*self._cues[-2:], (self.guide.cue, self.guide.component)]
            cue, name = self._cues[0]
            pours = cue in ("pour", "ease", "trickle") and self.cup_on and name in self.truth_ug
            if pours:
                rate = min(rate_g_s, 1.0) if cue != "pour" else rate_g_s
                self.truth_ug[name] += round(rate * 1e6 * STEP_S)
            self._say_weight(still=not pours)

    def drip(self, name: str, drops: int, every_s: float) -> None:
        for _ in range(drops):
            self.truth_ug[name] += DROP_UG
            self.rest(every_s)

    def press(self, word: str, text: str = "", after_s: float = 0.8) -> None:
        self.now_s += after_s
        self.guide.take(Key(self.now_s, word, "said" if word == "note" else text))
        self.look()

    def suffer(self, mishap: Mishap) -> None:
        """What befalls a pour; put right at once, or not."""
        what = mishap.what
        self._cues = []
        if what == "lift":
            self.cup_on = False
            self.rest(min(mishap.for_s, 3.0))
        elif what == "silence":
            self.now_s += mishap.for_s
            self.guide.take(Tick(self.now_s))
        elif what == "wake":  # switched off and on: what is on the pan is taken for zero
            self.now_s += mishap.for_s
            self.offset_ug, self.tared = self.on_pan_ug, False
            self.guide.take(Tick(self.now_s))
            self.rest(2.0)
        elif what == "tare":
            self.offset_ug, self.tared = self.on_pan_ug, True
            self.rest(1.0)
        elif what == "unit":
            self.unit = "oz"
            self.rest(1.0)
        elif what in ("wipe", "push"):
            self._wipe_or_push(what, mishap)
        else:
            self.guide.take(Failed(Fault(FaultKind(what), "?", "Trouble.", self.now_s)))
        self.look()
        if mishap.mended:
            self.mend(lifted=what in ("lift", "wake"))

    def _wipe_or_push(self, what: str, mishap: Mishap) -> None:
        """A hand that lies on the cup, or takes something out of it: of what was poured
        last where it is put right at once, else of the resin. What is taken out in the
        stream itself nobody can see."""
        mass_ug = round(mishap.for_s * 0.05e6)  # up to 3 g
        if self.guide.pour.stage != "pour":  # weighed, and off to be stirred
            return
        self.rest(2.0)
        if what == "push":
            self.pushes += 1
            self.offset_ug -= mass_ug
            self.rest(2.0)
            self.offset_ug += mass_ug
            self.rest(2.0)
            return
        names = [name for name, there in self.truth_ug.items() if there]
        if self.guide.pour.parting is not None:  # stirred, it has no part that is resin alone
            left = 1 - mass_ug / sum(self.truth_ug.values())
            self.truth_ug = {name: round(there * left) for name, there in self.truth_ug.items()}
        elif names:
            if self.guide.pour.contact_ms is not None:
                mass_ug = max(mass_ug, 350_000)  # less is not told from noise then
            name = names[-1 if mishap.mended else 0]
            self.truth_ug[name] -= min(mass_ug, self.truth_ug[name])
        self.rest(3.0)

    def lift_and_wipe(self, mass_ug: int) -> None:
        """Of what was poured last, with the cup off the scale for a while."""
        self.cup_on = False
        self.rest(2.0)
        names = [name for name, there in self.truth_ug.items() if there]
        if names:
            self.truth_ug[names[-1]] -= min(mass_ug, self.truth_ug[names[-1]])
        self.cup_on = True
        self.rest(4.0)

    def part(self) -> None:
        """The word, and the stir."""
        self.rest(0.4)
        self.press("part")
        if self.guide.pour.parting is not None:
            self.rest(self.guide.pour.terms.stir_ms / 1000 + 1)

    def take_out(self, share: float, *, lifted: bool) -> None:
        """So much of the stirred mix: of each component its share."""
        if self.guide.pour.parting is None:
            return
        if lifted:
            self.cup_on = False
            self.rest(2.0)
        for name, there in self.truth_ug.items():
            self.truth_ug[name] = round(there * (1 - share))
        self.cup_on = True
        self.rest(3.0)

    def mend(self, *, lifted: bool) -> None:
        """The scale as it was; the cup off and on again if need be."""
        if lifted:
            self.cup_on = False
            self.rest(1.0)
        self.unit, self.tared, self.offset_ug = "g", False, 0
        if lifted:
            self.rest(2.0)
            self.cup_on = True
        self.rest(2.0)

    def _say_weight(self, still: bool) -> None:
        self.now_s += STEP_S
        self._shown = [*self._shown[-self.late :], (self.on_pan_ug, still)]
        load_ug, still = self._shown[0] if self.late else self._shown[-1]
        shown = round((load_ug - self.offset_ug) / D_UG) * D_UG
        text = f"{shown / 1e6:.1f} {self.unit}"
        reading = Reading(
            shown, text, self.unit, D_UG, still, scale_tared=self.tared, at_s=self.now_s
        )
        self.guide.take(Weighed(reading))
        self.guide.take(Tick(self.now_s))
        self.look()

    # -- the laws ------------------------------------------------------------------------

    def look(self) -> None:
        """Laws of every moment: a cue and a sentence; stages that only go on."""
        guide = self.guide
        assert guide.cue in CUES
        assert guide.say
        stage = ORDER.index(guide.pour.stage)
        assert stage >= self._stage
        self._stage = stage

    def check(self) -> None:
        """Laws of the whole batch, so far."""
        self._check_facts()
        if self.guide.pour.result is not None:
            self._check_verdict()

    def _check_facts(self) -> None:
        facts, pour = self.guide.facts, self.guide.pour
        assert fold(facts) == pour
        times = [fact.at_ms for fact in facts]
        assert times == sorted(times)
        assert not {"live", "ended"} & {fact.kind for fact in facts[:-1]}
        if any(pour.amounts_ug[index] for index in pour.terms.recipe.hardeners):
            assert pour.contact_ms is not None
        # What follows upon a loss is asked for anew; else nothing is told twice in a row, but
        # as often as a hand lay there again.
        follows = ("called", "begun", "accepted")
        told = [replace(fact, at_ms=0) for fact in facts if fact.kind not in follows]
        twice = [one.kind for one, next_one in pairwise(told) if one == next_one]
        assert not {"gained", "doubted", "tared"} & set(twice)
        assert twice.count("lost") <= max(0, self.pushes - 1)
        if any(fact.kind == "doubted" for fact in facts) or _from_a_wrong_jug(facts):
            assert pour.unproven_because is not None

    def _check_verdict(self) -> None:
        """In band is truly in tolerance, whatever happened before. Rounding alone can be off
        by half a division for each weight that counts, drops between two jugs by two more."""
        pour, result = self.guide.pour, self.guide.pour.result
        assert result is not None
        assert result.verdict in ("in-band", "out-of-band", "unproven")
        if pour.unproven_because is not None:
            assert result.verdict == "unproven"
        if result.verdict != "in-band":
            return
        recipe = pour.terms.recipe
        there = list(self.truth_ug.values())
        resin, hardeners = there[0], [there[index] for index in recipe.hardeners]
        off = abs(sum(hardeners) - recipe.ratio * resin)
        low, high, _ = hardener_limits(recipe, resin, errors_of(pour.terms, D_UG), pour.switches)
        within = recipe.ratio_tolerance * recipe.ratio * resin
        blur = (recipe.ratio + pour.switches * (1 + recipe.ratio) + 1) * D_UG / 2
        guard = within - (high - low) / 2
        assert off <= within + max(0.0, blur + 2 * D_UG - guard), (self.truth_ug, result)
        for index in recipe.additives:
            share, spread = recipe.of_resin(index), recipe.components[index].tolerance or 0.0
            off = abs(there[index] - share * resin)
            assert off <= spread * share * resin + blur + 2 * D_UG, (self.truth_ug, result)

    def check_bookings(self) -> None:
        """Each jug is booked with what came out of it, its drips too, if they were let
        fall before the next was opened: two weights for each settling, each rounded, and
        drips that are less than what noise may be."""
        settlings = sum(fact.kind == "accepted" for fact in self.guide.facts)
        for booked, true in zip(self.guide.pour.amounts_ug, self.truth_ug.values(), strict=True):
            assert abs(booked - true) <= (settlings + 1) * D_UG, (booked, true)
