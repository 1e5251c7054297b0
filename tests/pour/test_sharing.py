"""A live batch is split at the scale: shares, fillers, cups that come and go."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.pouring import terms, weighed

from mixer.pour.cup_facts import Divided, Filled, Moved, Shared, Splitting
from mixer.pour.cups import MOST_SHARES, SLACK, held_ug, left_ug
from mixer.pour.facts import Accepted, Begun, Fact, Live, Opened, Tared
from mixer.pour.fillers import Filler, density_g_per_ml, find, start_ug
from mixer.pour.inputs import Cut, Input, Key, Tick, Weighed
from mixer.pour.observe import observe
from mixer.pour.on_scale import Sharing
from mixer.pour.plain import from_plain, to_plain
from mixer.pour.sharing import NOT_TOLD, decide
from mixer.pour.sharing_cue import advise
from mixer.pour.sight import Sight
from mixer.pour.state import evolve, fold

FILLERS = (Filler("wet micro", 2, 0.084), Filler("dry micro", 4, 0.084), Filler("flox", 2, 0.04))
BATCH: list[Fact] = [
    Opened(0, terms(60)),
    Tared(1_000, 12_000_000, 0, 100_000, "g", False, "12.0 g"),
    Accepted(9_000, 0, 44_100_000, 56_100_000, "56.1 g"),
    Begun(10_000, 1),
    Accepted(20_000, 1, 15_900_000, 72_000_000, "72.0 g"),
    Splitting(21_000),
    Live(30_000, 1, "in-band", (44_100_000, 15_900_000), 36.0, 36.05, None),
]


class Table:
    """The batch is live; what is on the pan, and who says what."""

    def __init__(self) -> None:
        self.facts = list(BATCH)
        pour = fold(self.facts)
        assert pour is not None
        self.pour, self.sight, self.sharing = pour, Sight(), Sharing()
        self.now_s, self.on_pan_g = 30.0, 72.0
        self.said = ""
        self.rest()

    def take(self, happened: Input) -> None:
        if self.pour.stage != "split":
            return
        self.sight = observe(self.sight, happened, following=False)
        self.sharing, decision = decide(self.pour, self.sight, self.sharing, FILLERS, happened)
        self.said = decision.refusal or decision.notice or self.said
        for fact in decision.facts:
            self.facts.append(fact)
            self.pour = evolve(self.pour, fact)

    def rest(self, for_s: float = 2.0) -> None:
        for _ in range(round(for_s * 10)):
            self.now_s += 0.1
            self.take(weighed(self.on_pan_g, self.now_s))
            self.take(Tick(self.now_s, 2 + len(self.pour.shares)))

    def put(self, grams: float, for_s: float = 2.0) -> None:
        self.on_pan_g = grams
        self.rest(for_s)

    def say(self, word: str, text: str = "", mass_ug: int | None = None, cup: int | None = None):  # type: ignore[no-untyped-def]
        self.now_s += 0.1
        self.said = ""
        self.take(Tick(self.now_s, 2 + len(self.pour.shares)))
        self.take(Key(self.now_s, word, text, mass_ug, cup))

    @property
    def new(self) -> list[Fact]:
        return self.facts[len(BATCH) :]

    @property
    def cue(self) -> str:
        return advise(self.pour, self.sight, self.sharing, FILLERS, self.now_s).cue

    @property
    def told(self) -> str:
        return advise(self.pour, self.sight, self.sharing, FILLERS, self.now_s).say


def test_a_share_is_weighed_in_a_cup_of_its_own() -> None:
    table = Table()
    assert "Cup 1 is live" in table.told
    table.put(0)
    table.put(5)
    assert table.cue == "share"
    table.put(25)
    table.say("go")
    (share,) = table.new
    assert share == Shared(share.at_ms, 2, 1, 20_000_000, "scale", 5_000_000, 25_000_000, "25.0 g")
    assert table.said == "Cup 2: 20.0 g. Write 2 on it."
    assert held_ug(table.pour, 1) == left_ug(table.pour) == 40_000_000
    table.say("go")
    assert table.said == "Cup 2 is taken down already: go once more, and the sharing ends."
    table.say("note", "for the ribs")
    table.put(0)
    table.say("go")
    assert [fact.kind for fact in table.new] == ["shared", "noted", "divided"]
    assert table.pour.stage == "live"


def test_that_nothing_is_shared_is_asked_about_once() -> None:
    table = Table()
    table.say("go")
    assert table.said == "Nothing is shared yet: go once more, and the sharing ends."
    table.say("go")
    assert [fact.kind for fact in table.new] == ["divided"]


def test_a_share_counts_when_its_cup_is_lifted_off() -> None:
    table = Table()
    for grams in (0, 5, 25, 0):
        table.put(grams)
    assert [fact.kind for fact in table.new] == ["shared"]
    for grams in (25, 0, 25):  # it comes back as it was: no empty cup
        table.put(grams)
        assert table.sharing.tare is None
    assert table.sharing.cup == 2
    table.say("split")  # a share by eye, whatever stands there
    assert [getattr(fact, "mass_ug", 0) for fact in table.new] == [20_000_000, None]


def test_an_empty_cup_is_tared_once_it_has_stood_and_anew_without_the_hand() -> None:
    table = Table()
    table.put(0)
    table.put(6, 0.9)  # at rest for the last of it
    assert table.sharing.tare is None
    table.put(6, 1)
    assert table.sharing.tare is not None
    table.put(5)
    table.put(25)
    table.say("go")
    assert [getattr(fact, "mass_ug", 0) for fact in table.new] == [20_000_000]


def test_a_pan_that_does_not_show_zero_is_empty_all_the_same() -> None:
    table = Table()
    table.pour = replace(table.pour, tared=replace(BATCH[1], zero_ug=3_000_000))  # type: ignore[arg-type, type-var]
    for grams in (3.2, 8, 28, 3):
        table.put(grams)
    assert [getattr(fact, "mass_ug", 0) for fact in table.new] == [20_000_000]
    table.put(3.9)  # no cup is so light
    assert table.sharing.tare is None


def test_what_is_typed_counts_before_what_is_weighed_and_nothing_is_no_share() -> None:
    table = Table()
    for grams in (0, 5, 25):
        table.put(grams)
    table.say("split", mass_ug=0)
    assert table.said.startswith("That is no share")
    table.say("split", mass_ug=12_000_000)
    (share,) = table.new
    assert isinstance(share, Shared)
    assert (share.mass_ug, share.weights, share.tare_ug) == (12_000_000, "typed", None)


def test_what_stands_in_a_cup_when_all_is_cut_short_counts() -> None:
    table = Table()
    for grams in (0, 5, 25):
        table.put(grams)
    table.take(Cut(table.now_s, "interrupted"))
    assert [fact.kind for fact in table.new] == ["shared", "divided"]


def test_while_tare_is_pressed_on_the_scale_nothing_is_weighed() -> None:
    table = Table()
    for grams in (0, 5):
        table.put(grams)
    for _ in range(20):
        table.now_s += 0.1
        said = weighed(25, table.now_s).reading
        table.take(Weighed(replace(said, scale_tared=True)))
        table.take(Tick(table.now_s, 2))
    assert table.cue == "clear"
    table.say("go")
    assert table.new == []


def test_an_empty_cup_that_is_taken_away_again_is_no_share() -> None:
    table = Table()
    for grams in (0, 5):
        table.put(grams)
    table.say("go")
    assert table.said.startswith("Nothing is at rest in this cup yet")
    table.put(0)
    assert table.new == []


def test_the_batchs_own_cup_that_comes_back_is_not_tared() -> None:
    table = Table()
    for grams in (0, 72, 0, 71, 0, 72):  # the stick took some along
        table.put(grams)
        assert table.cue == "place"
    table.say("filler", "flox")
    table.put(76)
    table.say("go")
    (filled,) = table.new
    assert isinstance(filled, Filled)
    assert (filled.cup, filled.filler, filled.mass_ug) == (1, "flox", 4_000_000)


def test_filler_goes_in_to_consistency_and_is_weighed() -> None:
    table = Table()
    for grams in (0, 5, 25):
        table.put(grams)
    table.say("filler", "wet")
    assert table.cue == "fill"
    assert "2.9 g to start, then to consistency" in table.told
    for grams in (28.1, 0, 28.1, 31.2):  # stirred off the scale
        table.put(grams)
    table.say("go")
    share, filled = table.new
    assert isinstance(filled, Filled)
    assert (share.kind, filled.mass_ug, filled.weights) == ("shared", 6_200_000, "scale")
    assert (filled.base_ug, filled.gross_ug, filled.text) == (25_000_000, 31_200_000, "31.2 g")
    assert filled.start_ug == pytest.approx(2.922e6, rel=1e-3)  # 20 g, 2 volumes of 0.084 g/mL


def test_the_batchs_own_cup_is_known_when_all_was_stirred_off_the_scale() -> None:
    table = Table()
    table.sharing = Sharing()
    for grams in (0, 71.2):
        table.put(grams)
    assert (table.sharing.cup, table.sharing.tare) == (1, None)
    table.put(0)
    table.put(66)  # another one
    assert table.cue == "share"


def test_which_cup_is_asked_where_the_one_on_the_scale_is_not_known() -> None:
    table = Table()
    table.put(0)
    table.say("split")
    table.put(40)  # the batch's own, or the other
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1 or filler 2, and the name?"
    table.say("filler", "wet", cup=1)
    table.put(44.5)
    table.say("go")
    assert [(f.cup, f.mass_ug, f.start_ug) for f in table.pour.filled] == [(1, 4_500_000, None)]


def test_what_a_scale_flickers_by_is_no_filler_and_what_was_typed_not_weighed_again() -> None:
    table = Table()
    table.say("filler", "wet", 3_000_000)
    table.put(75)
    table.say("filler", "dry")
    table.put(75.2)
    table.say("go")
    assert table.said == NOT_TOLD
    table.put(77)
    table.say("go")
    assert [f.mass_ug for f in table.pour.filled] == [3_000_000, 2_000_000]


def test_once_it_was_moved_its_cup_has_another_weight() -> None:
    table = Table()
    table.say("filler", "wet")
    table.say("moved")
    table.put(75)
    table.say("go")
    assert table.said == NOT_TOLD
    assert table.sharing.grosses == {}


def test_filler_that_goes_in_before_it_is_named_counts() -> None:
    table = Table()
    for grams in (0, 5, 25):
        table.put(grams)
    table.say("go")
    table.put(29)
    table.say("filler", "dry")
    table.put(31)
    table.say("go")
    assert [(f.filler, f.mass_ug) for f in table.pour.filled] == [("dry micro", 6_000_000)]


def test_filler_of_a_cup_that_is_off_is_weighed_when_it_is_back() -> None:
    table = Table()
    for grams in (0, 5, 25, 0):
        table.put(grams)
    table.say("filler", "dry")
    table.put(31)
    table.say("go")
    assert [(f.cup, f.mass_ug) for f in table.pour.filled] == [(2, 6_000_000)]


@pytest.mark.parametrize(
    ("mass_ug", "said"),
    [
        (0, "0.0 g is no filler: give a mass above zero, or none."),
        (
            4_000_000_000,
            "4000.0 g is more filler than that cup takes: not taken down. Up to 29.2 g",
        ),
        (29_300_000, "29.3 g is more filler than that cup takes"),
    ],
)
def test_a_slip_is_no_filler(mass_ug: int, said: str) -> None:
    table = Table()
    table.say("split", mass_ug=20_000_000)
    table.say("filler", "wet", mass_ug, cup=2)
    assert table.said.startswith(said)
    table.say("split")
    table.say("filler", "wet", mass_ug=29_200_000, cup=2)
    table.say("filler", "wet", mass_ug=40_000_000, cup=3)  # of 40 g, as far as anybody knows
    assert [one.mass_ug for one in table.pour.filled] == [29_200_000, 40_000_000]


def test_while_the_weight_moves_no_filler_is_begun() -> None:
    table = Table()
    table.sharing = Sharing()
    for i in range(10):
        table.now_s += 0.1
        table.take(weighed(72 + i, table.now_s, still=False))
    table.say("filler", "dry")
    assert table.said.startswith("The weight has not come to rest")
    assert table.sharing.filling is None


def test_filler_that_the_scale_did_not_see_is_asked_about_once() -> None:
    table = Table()
    table.put(0)
    table.say("split")
    table.say("filler", "dry")
    table.say("go")
    assert table.said == NOT_TOLD
    table.say("go")
    _, filled = table.new
    assert isinstance(filled, Filled)
    assert (filled.cup, filled.mass_ug, filled.weights) == (2, None, None)
    table.say("filler", "flox", 2_000_000, cup=1)
    table.say("filler", "flox", cup=7)
    assert table.said == "Cup 7 is none of this batch's: 1, 2."
    assert [(f.cup, f.mass_ug) for f in table.pour.filled] == [(2, None), (1, 2_000_000)]


def test_filler_that_was_named_went_in_when_all_is_ended() -> None:
    table = Table()
    table.say("filler", "flox")
    table.take(Cut(table.now_s, "interrupted"))
    assert [fact.kind for fact in table.new] == ["filled", "divided"]
    assert table.pour.stage == "live"


def test_no_share_is_more_than_can_be_left() -> None:
    table = Table()
    table.say("split", mass_ug=50_000_000)
    for grams in (0, 5, 25):
        table.put(grams)
    table.say("go")
    assert table.said.startswith("20.0 g is more than cup 1 had left, 10.0 g")
    for _ in range(MOST_SHARES + 1):
        table.say("split", mass_ug=1_000_000)
    assert len(table.pour.shares) == MOST_SHARES
    assert table.said == "A batch is split into 8 cups at the most."


def test_after_a_silence_no_weight_is_compared_with_one_before() -> None:
    table = Table()
    for grams in (0, 5):
        table.put(grams)
    table.now_s += 5  # it may have woken up with the cup on it
    table.take(Tick(table.now_s, 2))
    assert "Nothing is weighed now" in table.told
    table.put(25)
    table.put(0)
    assert table.new == []


def test_the_other_words() -> None:
    table = Table()
    for word in ("hold", "drop", "use", "part", "jug"):
        table.say(word)
        assert table.said.startswith("The cups are live: say go, split")
    table.say("moved")
    table.say("moved")
    table.say("note", "slurry")
    assert [fact.kind for fact in table.new] == ["moved", "noted"]
    assert table.new[0] == Moved(table.new[0].at_ms, 1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Which filler: wet micro, dry micro, flox?"),
        ("micro", "Which filler: wet micro, dry micro?"),
        (
            "sand",
            "'sand' is no filler known here: wet micro, dry micro, flox; or keep it as a note.",
        ),
    ],
)
def test_a_filler_that_is_not_known_is_not_guessed(text: str, said: str) -> None:
    assert find(FILLERS, text) == said


def test_a_start_is_by_the_fillers_volumes_and_the_mixs_density() -> None:
    pour = Table().pour
    assert density_g_per_ml(pour) == pytest.approx(1.15)  # no component has one: the usual
    # 46 g of epoxy are 40 mL; two volumes of a filler of 0.084 g/mL are 6.7 g.
    assert start_ug(pour, 46_000_000, FILLERS[0]) == 6_720_000
    assert start_ug(pour, 0, FILLERS[0]) is None


def shared(*grams: float) -> Table:
    """After these weights, one after another; 6 g is an empty cup."""
    table = Table()
    for one in grams:
        table.put(one)
    return table


def went_in(table: Table) -> list[tuple[int, int | None, str | None]]:
    return [(one.cup, one.mass_ug, one.weights) for one in table.pour.filled]


def test_after_filler_that_was_typed_the_cup_on_the_scale_is_the_same() -> None:
    table = shared(0, 6, 26)
    table.say("filler", "wet", mass_ug=4_000_000)
    table.put(26)  # it goes in only now
    table.put(30)
    table.say("filler", "wet")
    table.put(31.5)
    table.say("go")
    assert went_in(table) == [(2, 4_000_000, "typed"), (2, 1_500_000, "scale")]


def test_after_filler_that_was_not_weighed_the_cup_on_the_scale_is_the_same() -> None:
    table = shared(0, 6, 26)
    table.say("filler", "wet")
    for word in ("go", "go"):
        table.say(word)
    table.put(28)
    table.say("filler", "flox")
    table.put(29)
    table.say("go")
    assert went_in(table) == [(2, None, None), (2, 1_000_000, "scale")]


def test_after_a_share_by_eye_or_a_refused_one_the_cup_on_the_scale_is_the_same() -> None:
    table = shared(0, 6, 26)
    table.say("go")
    table.say("split")
    table.put(26)
    assert table.sharing.cup == 2
    table = shared(0, 6, 90)  # more than there was
    table.say("go")
    assert "is more than cup 1 had left" in table.said
    table.put(90)
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1, and the name?"


def test_after_a_silence_which_cup_stands_there_is_asked() -> None:
    table = shared(0, 6, 26)
    table.say("go")
    table.now_s += 5
    table.take(Tick(table.now_s, 3))
    table.put(26)
    table.say("go")
    assert table.said.startswith("Which cup is on the scale was not said: go once more")
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1 or filler 2, and the name?"
    table.say("filler", "wet", cup=2)
    table.put(29)
    table.say("go")
    assert went_in(table) == [(2, 3_000_000, "scale")]
    table = Table()  # its own cup alone, by its weight
    table.now_s += 5
    table.take(Tick(table.now_s, 2))
    table.put(72)
    assert table.sharing.cup == 1


def test_a_share_waits_for_its_number() -> None:
    table = shared(0, 6, 26)
    table.sharing = replace(table.sharing, free_cup=0)
    table.take(Key(table.now_s, "go"))
    assert table.said.startswith("One moment, and once more")
    table.say("go")
    assert table.said == "Cup 2: 20.0 g. Write 2 on it."


def test_an_empty_cup_that_stands_there_from_the_first_is_not_the_batchs_own() -> None:
    table = Table()
    table.sharing = Sharing()
    table.put(6)
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1, and the name?"


@pytest.mark.parametrize("cup", [2, 3])
def test_of_two_cups_of_one_weight_the_builder_says_which(cup: int) -> None:
    table = shared(0, 6, 26, 0, 6, 26, 0, 26)
    asked = "Which cup is it: filler 2 or filler 3, and the name?"
    assert table.told == f"{asked} Or take it off."
    for mass_ug in (None, 4_000_000):
        table.say("filler", "wet", mass_ug)
        assert table.said == asked
    table.say("go")
    assert table.said.startswith("Which cup is on the scale was not said")
    assert table.pour.filled == ()
    table.put(27)  # some of it before its name
    table.say("filler", "wet", cup=cup)
    table.put(30)
    table.say("go")
    assert went_in(table) == [(cup, 4_000_000, "scale")]
    table.put(0)
    table.put(30)  # and now they differ
    assert table.sharing.cup == cup


def test_a_share_and_what_is_left_of_the_batch_may_weigh_the_same() -> None:
    table = shared(0, 12, 42, 0, 42)
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1 or filler 2, and the name?"
    table.say("filler", "wet", cup=1)
    table.put(45)
    table.say("go")
    assert went_in(table) == [(1, 3_000_000, "scale")]
    table = shared(0, 12, 42, 0)
    table.say("filler", "wet", cup=1)
    table.put(42)  # the other, or this with nothing in it
    table.say("go")
    assert table.said == NOT_TOLD


def test_which_of_several_cups_that_are_off_is_asked() -> None:
    table = shared(0, 6, 26, 0, 6, 24, 0)
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1 or filler 2 or filler 3, and the name?"
    table.say("filler", "wet", cup=3)
    table.put(28)
    table.say("go")
    assert went_in(table) == [(3, 4_000_000, "scale")]


def test_what_is_not_yet_at_rest_is_no_cup() -> None:
    table = shared(0, 6, 26, 0)
    table.put(52, 0.9)
    table.say("filler", "wet", 4_000_000)
    assert table.said.startswith("The weight has not come to rest")
    assert table.pour.filled == ()


def test_a_cup_that_was_used_is_no_empty_one() -> None:
    table = shared(0, 6, 26, 0, 18)
    assert "If it came back: filler 1 or filler 2" in table.told
    table.put(22)
    assert table.told.startswith("4.0 g: if it is a share, split. If filler: filler 1 or filler 2")
    table.say("go")
    assert table.said == table.told
    table.say("filler", "wet")
    assert table.said == "Which cup is it: filler 1 or filler 2, and the name?"
    table.say("filler", "wet", cup=2)
    table.put(23)
    table.say("go")
    assert [fact.kind for fact in table.new] == ["shared", "filled"]
    assert went_in(table) == [(2, 5_000_000, "scale")]


def test_filler_that_went_in_off_the_scale_before_it_was_named_counts_too() -> None:
    table = shared(0, 6, 26, 0, 28.7)
    table.say("filler", "wet", cup=2)
    table.put(30.2)
    table.say("go")
    assert went_in(table) == [(2, 4_200_000, "scale")]


def test_what_came_into_a_cup_that_may_be_no_new_one_is_not_taken_down() -> None:
    table = shared(0, 6, 26, 0, 18, 22, 0)
    assert table.said.startswith("4.0 g came into a cup that may be no new one: not taken down.")
    table.put(18)
    table.put(22)
    table.take(Cut(table.now_s, "interrupted"))
    assert [fact.kind for fact in table.new] == ["shared", "divided"]


def test_an_empty_cup_of_another_sort_is_said_once() -> None:
    table = shared(0, 20, 40)
    table.say("split")
    for grams in (0, 20.3, 35, 0):
        table.put(grams)
    assert [share.mass_ug for share in table.pour.shares] == [20_000_000, 14_700_000]


def test_an_empty_cup_is_not_the_one_that_filler_is_named_for() -> None:
    table = shared(0, 6, 26, 0, 6)
    table.say("filler", "wet", cup=2)
    assert "Nothing is weighed now" in table.told
    table.put(26)  # a share, poured all the same
    table.put(0)
    table.say("go")
    table.say("go")
    assert went_in(table) == [(2, None, None)]
    assert [share.mass_ug for share in table.pour.shares] == [20_000_000, 20_000_000]


def test_what_comes_upon_another_cup_is_no_filler() -> None:
    table = shared(0, 6, 26)
    table.say("filler", "wet")
    for grams in (0, 6, 40):
        table.put(grams)
    assert "Nothing is weighed now" in table.told
    table.say("go")
    assert table.said == NOT_TOLD
    for grams in (0, 29):
        table.put(grams)
    table.say("go")
    assert went_in(table) == [(2, 3_000_000, "scale")]


SAYINGS = st.one_of(
    st.tuples(st.sampled_from(["go", "split", "moved", "hold"]), st.just(""), st.none()),
    st.tuples(st.just("split"), st.just(""), st.integers(0, 70_000_000)),
    st.tuples(st.just("filler"), st.sampled_from(["wet", "flox", "x"]), st.none()),
)
STEPS = st.lists(
    st.one_of(SAYINGS, st.sampled_from([0.0, 5.0, 12.0, 25.0, 40.0, 72.0])), max_size=9
)


@settings(max_examples=60, deadline=None)
@given(STEPS)
def test_whatever_happens_the_shares_are_no_more_than_the_batch(steps: list[object]) -> None:
    table = Table()
    for step in steps:
        if isinstance(step, float):
            table.put(step, 1.5)
        else:
            table.say(*step)  # type: ignore[misc]
    table.take(Cut(table.now_s, "interrupted"))
    assert fold(table.facts) == table.pour
    read = [from_plain(fact.kind, fact.at_ms, to_plain(fact)) for fact in table.new]
    assert read == table.new
    assert table.pour.stage == "live"
    assert isinstance(table.facts[-1], Divided)
    numbers = [1, *(share.cup for share in table.pour.shares)]
    assert len(set(numbers)) == len(numbers)
    assert {filled.cup for filled in table.pour.filled} <= set(numbers)
    known = sum(share.mass_ug or 0 for share in table.pour.shares)
    assert known <= 60_000_000 * (1 + SLACK) + 2 * 100_000
    assert table.pour.result == BATCH[-1]  # and nothing changes what was weighed before
