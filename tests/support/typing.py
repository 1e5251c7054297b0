"""A batch at a scale with no cable, as the bench thread drives its pure core."""

from __future__ import annotations

from mixer.pour.facts import Fact, Opened
from mixer.pour.inputs import Input, Key, Tick
from mixer.pour.recipe import Recipe, Terms
from mixer.pour.shows import Ask, Entry, ask_of
from mixer.pour.state import Pour, begin, evolve
from mixer.pour.typed import decide
from mixer.pour.typed_cue import advise


class Teller:
    """Says figures and words, each five seconds after the one before."""

    def __init__(
        self,
        recipe: Recipe,
        size_g: float = 60,
        *,
        cup_g: float | None = None,
        scale_g: float = 2_000,
        division_g: float = 0.1,
        left_g: tuple[float | None, ...] = (),
    ) -> None:
        most = None if cup_g is None else round(cup_g * 1e6)
        terms = Terms(
            recipe, round(size_g * 1e6), most, round(scale_g * 1e6), 20_000, False,
            typed_division_ug=round(division_g * 1e6),
            left_ug=tuple(None if g is None else round(g * 1e6) for g in left_g),
        )  # fmt: skip
        opened = Opened(0, terms)
        self.facts: list[Fact] = [opened]
        self.pour: Pour = begin(opened)
        self.entry = Entry()
        self.now_s = 0.0
        self.refusal = self.notice = self.cue = self.say = ""
        self.take(Tick(0.0))

    def take(self, happened: Input, double: bool = False) -> None:
        self.entry, decision = decide(self.pour, self.entry, happened, double)
        for fact in decision.facts:
            self.facts.append(fact)
            self.pour = evolve(self.pour, fact)
        self.refusal, self.notice = decision.refusal, decision.notice
        advice = advise(self.pour, self.entry, happened.at_s)
        self.cue, self.say = advice.cue, advice.say

    def tell(self, word: str, text: str = "", after_s: float = 5.0) -> None:
        self.now_s += after_s
        self.take(Key(self.now_s, word, text))

    def shows(self, *figures: float | str) -> None:
        """Each figure said and gone on from."""
        for figure in figures:
            self.tell("shows", str(figure))
            self.tell("go")

    def wait(self, seconds: float = 5.0) -> None:
        self.now_s += seconds
        self.take(Tick(self.now_s))

    @property
    def ask(self) -> Ask:
        asked = ask_of(self.pour, self.now_s)
        assert asked is not None
        return asked

    @property
    def asked_g(self) -> tuple[float, float, float]:
        """The total that the display is to show, and its limits."""
        ask = self.ask
        return ask.target_ug / 1e6, ask.low_ug / 1e6, ask.high_ug / 1e6

    @property
    def amounts_g(self) -> tuple[float, ...]:
        return tuple(amount / 1e6 for amount in self.pour.amounts_ug)
