"""Any figures and words in any order, at a scale with no cable."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from support.typing import Teller

from mixer.pour.afresh import take_up
from mixer.pour.facts import Accepted, Called, Ended, Live, Parted
from mixer.pour.inputs import Cut, Key
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.recipe import Component, Recipe
from mixer.pour.shows import ask_of, known_ug, read_ug
from mixer.pour.state import fold

RESIN = Component("resin", "resin", 100, 4, tag="resin 1")
RECIPES = [
    Recipe(
        (RESIN, Component("hardener", "hardener", 36, 4, tag="hardener 1")), ratio_tolerance=0.03
    ),
    Recipe(
        (RESIN, Component("fast", "hardener", 20, 4, tag="fast 1"),
         Component("slow", "hardener", 16, 4, tag="slow 1")),
        ratio_tolerance=0.03,
    ),
    Recipe(
        (RESIN, Component("pigment", "additive", 4, 4, tolerance=0.2, tag="pigment 1"),
         Component("hardener", "hardener", 36, 4, tag="hardener 1")),
        ratio_tolerance=0.03,
    ),
]  # fmt: skip
WORDS = st.sampled_from(["go", "go", "go", "hold", "use", "part", "note", "shows", "nonsense"])
#: By how much of the way to it, or by how many steps, a figure misses what was asked for.
NEAR = st.one_of(st.just(0.0), st.floats(-30, 30), st.floats(-400, 400))
JUNK = st.one_of(st.text(max_size=8), st.sampled_from(["", "-0.0", "0", "999999", "44,1", "1e9"]))


class Machine(RuleBasedStateMachine):
    """One batch; every figure is of this builder's, right or wrong."""

    @initialize(
        recipe=st.sampled_from(RECIPES),
        size_g=st.sampled_from([10, 60, 200]),
        room=st.sampled_from([None, 1.02, 1.3]),
        division_g=st.sampled_from([0.01, 0.1, 0.5, 1]),
    )
    def set_up(self, recipe: Recipe, size_g: float, room: float | None, division_g: float) -> None:
        cup_g = None if room is None else room * size_g
        self.teller = Teller(recipe, size_g, cup_g=cup_g, division_g=division_g)

    @property
    def over(self) -> bool:
        return self.teller.pour.result is not None

    @rule(word=WORDS, after_s=st.sampled_from([0.0, 0.7, 3.0, 30.0]))
    def say(self, word: str, after_s: float) -> None:
        self.teller.tell(word, after_s=after_s)

    @precondition(lambda self: not self.over)
    @rule(near=NEAR, with_word=st.sampled_from(["shows", "go", "go", "use", "part"]))
    def figure(self, near: float, with_word: str) -> None:
        ask = ask_of(self.teller.pour, self.teller.now_s)
        step = self.teller.pour.terms.typed_division_ug or 0
        target = 50_000_000 if ask is None else ask.target_ug
        text = f"{(target + round(near) * step) / 1e6:.2f}"
        self.teller.tell(with_word, text)
        if with_word == "shows":
            self.teller.tell("go")

    @precondition(lambda self: not self.over)
    @rule(near=NEAR)
    def was(self, near: float) -> None:
        step = self.teller.pour.terms.typed_division_ug or 0
        before = self.teller.pour
        self.teller.tell("was", f"{(known_ug(before) + round(near) * step) / 1e6:.2f}")
        assert (self.teller.pour == before) == bool(self.teller.refusal)

    @rule(jug=st.sampled_from(["resin", "hardener", "fast", "slow", "pigment", "other"]))
    def scan(self, jug: str) -> None:
        before = self.teller.entry
        self.teller.tell("jug", f"{jug} 1")
        assert self.teller.entry == before or self.over

    @rule(text=JUNK, word=st.sampled_from(["shows", "go"]))
    def junk(self, text: str, word: str) -> None:
        before = self.teller.pour
        self.teller.tell(word, text)
        if read_ug(text) is None and text.strip() and not before.held_by_hand:
            assert self.teller.pour == before
            assert self.teller.refusal or self.over

    @rule()
    def wait(self) -> None:
        self.teller.wait(60)

    @precondition(lambda self: not self.over)
    @rule()
    def bounce(self) -> None:
        before = self.teller.pour
        self.teller.take(Key(self.teller.now_s, "go"), True)
        assert self.teller.pour == before

    @precondition(lambda self: not self.over)
    @rule()
    def cut_off_and_gone_on(self) -> None:
        teller = self.teller
        teller.now_s += 100
        teller.facts += take_up(teller.facts, teller.now_s, None)
        teller.pour = fold(teller.facts) or teller.pour
        teller.entry = type(teller.entry)()

    @precondition(lambda self: len(self.teller.facts) > 8 and not self.over)
    @rule(how=st.sampled_from(["drop", "cut"]))
    def end(self, how: str) -> None:
        if how == "drop":
            self.teller.tell("drop")
        else:
            self.teller.take(Cut(self.teller.now_s, "interrupted"))
        assert isinstance(self.teller.pour.result, Ended)

    @invariant()
    def laws_hold(self) -> None:
        if not hasattr(self, "teller"):
            return
        teller, pour = self.teller, self.teller.pour
        back = [from_plain(f.kind, f.at_ms, to_plain(f)) for f in teller.facts]
        assert fold([f for f in back if f is not None]) == pour
        assert teller.say
        assert teller.say.isprintable()
        assert all(amount >= 0 for amount in pour.amounts_ug)
        if pour.tared is not None:
            # What was typed last is what the amounts come to, but for rounding when parted.
            last = [f.gross_ug for f in teller.facts if isinstance(f, Accepted | Parted)]
            total = pour.tared.tare_ug + sum(pour.amounts_ug)
            assert abs(total - (last or [pour.tared.tare_ug])[-1]) <= 2 * len(pour.amounts_ug)
        hardeners = pour.terms.recipe.hardeners
        called = [f for f in teller.facts if isinstance(f, Called) and f.component in hardeners]
        assert pour.contact_ms == (called[0].at_ms if called else None)
        if pour.result is not None:
            self.look_at_the_end()

    def look_at_the_end(self) -> None:
        pour, result = self.teller.pour, self.teller.pour.result
        assert result is not None
        assert result.verdict == "unproven"
        assert result.unproven_because
        if isinstance(result, Live):
            target, tolerance = result.ratio_target, pour.terms.recipe.ratio_tolerance
            assert result.ratio_actual is not None
            out = abs(result.ratio_actual / target - 1) > tolerance
            assert out == ("off by" in result.unproven_because)

    def teardown(self) -> None:
        """Wherever it stands, the way that is shown leads out of it."""
        if not hasattr(self, "teller"):
            return
        teller = self.teller
        for _ in range(40):
            if self.over:
                break
            ask = ask_of(teller.pour, teller.now_s)
            if ask is None:
                teller.wait(60)
                teller.tell("go")
            elif ask.low_ug > ask.high_ug:
                teller.tell("use", f"{ask.target_ug / 1e6 + 1:.2f}")
                if teller.pour.stage == "pour":
                    teller.tell("drop")
            else:
                teller.tell("go", f"{ask.target_ug / 1e6:.2f}")
                teller.tell("go")
        assert self.over, teller.say
        self.laws_hold()


Machine.TestCase.settings = settings(max_examples=40, stateful_step_count=15, deadline=None)
TestMachine = Machine.TestCase


@settings(max_examples=40, deadline=None)
@given(
    recipe=st.sampled_from(RECIPES),
    size_g=st.floats(60, 400),
    misses=st.lists(st.integers(-5, 60), min_size=3, max_size=12),
)
def test_who_types_what_is_there_is_led_into_band(
    recipe: Recipe, size_g: float, misses: list[int]
) -> None:
    """However far each pour goes past what was asked for, the way back is in totals too."""
    teller = Teller(recipe, round(size_g, 1))
    teller.tell("go")
    while teller.pour.stage == "pour":
        miss = misses.pop() if misses else 0
        total = teller.ask.target_ug + miss * 100_000
        teller.tell("go", f"{total / 1e6:.1f}")
        if "once more" in teller.refusal:
            teller.tell("go")
        if teller.refusal:  # short, or too much to be put right: as asked, then
            teller.tell("go", f"{teller.ask.target_ug / 1e6:.1f}")
    teller.wait(60)
    result = teller.pour.result
    assert isinstance(result, Live)
    assert result.unproven_because == "its weights were typed in"
