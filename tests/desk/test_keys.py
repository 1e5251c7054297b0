"""What keys mean, in made-up time: one press is one word, however it bounces."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from mixer.app.words import CARDS
from mixer.desk.held import HeldKeys
from mixer.desk.keys import BOUNCE_MS, COMMANDS, CONFIRM_MS, DOUBLE_MS, SCAN_MS, Keys
from mixer.desk.line import FAST_MS, Line
from mixer.desk.pace import MEAN_MS
from mixer.plan.tags import Kit, payload

NAMES = {"\n": "Return", " ": "space"}
LETTERS = st.text("abcdefghijklmnopqrstuvwxyz 0123456789-", min_size=1, max_size=20)


def press(keys: Keys, key: str, at_ms: int, char: str = "") -> str | None:
    word = keys.word(key, char, at_ms)
    keys.release(key, at_ms + 1)
    return word


def scan(keys: Keys, text: str, at_ms: int, gap_ms: int = 3) -> list[str]:
    """All words that a scanned text comes to."""
    words = []
    for n, letter in enumerate(text + "\n"):
        key = NAMES.get(letter, letter)
        words.append(press(keys, key, at_ms + n * gap_ms, letter.strip("\n")))
    return [word for word in words if word is not None]


@given(st.lists(st.integers(1, BOUNCE_MS - 1), max_size=40), st.sampled_from(["space", "Delete"]))
def test_a_held_or_bouncing_key_is_one_press(gaps_ms: list[int], key: str) -> None:
    keys, at_ms = Keys(), 10_000
    words = [keys.word(key, "", at_ms)]
    for gap_ms in gaps_ms:  # up and down again, as autorepeat and a worn contact do
        keys.release(key, at_ms)
        at_ms += gap_ms
        words.append(keys.word(key, "", at_ms))
    assert words.count(None) == len(gaps_ms)


@given(st.integers(BOUNCE_MS + 2, 3 * DOUBLE_MS))
def test_a_pedals_double_press_counts_once(gap_ms: int) -> None:
    keys = Keys()
    words = [press(keys, "space", 10_000, " "), press(keys, "space", 10_000 + gap_ms, " ")]
    assert words == ["go", "go" if gap_ms >= DOUBLE_MS else None]


@given(st.integers(DOUBLE_MS, 2 * CONFIRM_MS))
def test_dropping_takes_a_second_press_while_the_question_stands(gap_ms: int) -> None:
    keys = Keys()
    words = [press(keys, "Delete", 10_000), press(keys, "Delete", 10_000 + gap_ms)]
    assert words == ["ask", "drop" if gap_ms <= CONFIRM_MS else "ask"]


@given(st.sampled_from(["space", "Escape", "F2", "F3", "x", "Tab"]))
def test_any_other_key_keeps_the_batch(key: str) -> None:
    keys = Keys()
    assert press(keys, "Delete", 10_000) == "ask"
    press(keys, key, 11_000, key if len(key) == 1 else "")
    assert not keys.asking(11_000)
    assert press(keys, "Return", 12_900) != "drop"


@given(st.sampled_from(CARDS), st.integers(1, 1_000))
def test_a_scanned_card_is_its_key_and_what_a_hand_types_is_none(card: str, gap_ms: int) -> None:
    says = ["typed"] if gap_ms > MEAN_MS else ["ask" if card == "drop" else card]
    assert scan(Keys(), card, 10_000, gap_ms) == says
    assert scan(Keys(), card.upper(), 10_000, gap_ms) == says


def test_a_drop_card_is_scanned_twice() -> None:
    keys = Keys()
    assert scan(keys, "drop", 10_000) == ["ask"]
    assert scan(keys, "drop", 10_200) == []  # one scan, read twice
    assert scan(keys, "drop", 12_000) == ["drop"]


@given(LETTERS.filter(lambda t: t.strip() == t and t not in CARDS))
def test_what_else_is_scanned_says_nothing(text: str) -> None:
    keys = Keys()
    assert scan(keys, text, 10_000) == [""]
    assert keys.read == text  # and is kept for who knows the tags of the jugs


@given(st.integers(SCAN_MS, 10_000))
def test_a_pedal_counts_after_a_stray_letter(gap_ms: int) -> None:
    keys = Keys()
    press(keys, "x", 10_000, "x")
    assert press(keys, "space", 10_000 + gap_ms, " ") == "go"


def test_a_key_that_lost_its_release_is_not_deaf_for_long() -> None:
    keys = Keys()
    assert keys.word("Escape", "", 10_000) == "escape"
    assert keys.word("Escape", "", 12_000) == "escape"
    keys.forget()
    assert keys.word("Escape", "", 12_001) == "escape"


class Later:
    """Keeps what is to be done later until it is told that the time is over."""

    def __init__(self) -> None:
        self.waiting: list[object] = []

    def after(self, ms: int, do: object) -> None:
        self.waiting.append(do)

    def is_over(self) -> None:
        waiting, self.waiting = self.waiting, []
        for do in waiting:
            do()  # type: ignore[operator]


@given(st.lists(st.sampled_from(["press", "release", "later", "forget"]), max_size=30))
def test_a_held_key_is_told_down_and_up_in_turn(happens: list[str]) -> None:
    told: list[bool] = []
    later = Later()
    held = HeldKeys({"Down": told.append}, later.after)
    down = False
    for one in happens:
        if one == "press":
            held.press("Down")
            down = True
        elif one == "release":
            held.release("Down")
            down = False
        elif one == "forget":
            held.forget()
            down = False
        else:
            later.is_over()
            assert bool(told and told[-1]) == down
    later.is_over()
    assert told == [n % 2 == 0 for n in range(len(told))]
    assert bool(told and told[-1]) == down


def test_autorepeat_of_a_held_key_is_told_nothing() -> None:
    told: list[bool] = []
    later = Later()
    held = HeldKeys({"Down": told.append}, later.after)
    for _ in range(5):
        held.press("Down")
        held.release("Down")
    held.press("Down")
    later.is_over()
    assert told == [True]


@given(
    gap=st.integers(0, 79), pause_ms=st.integers(0, 1400), typed=st.sampled_from(["", "4", "41 "])
)
def test_a_tag_that_was_held_up_in_the_midst_is_one_scan(
    gap: int, pause_ms: int, typed: str
) -> None:
    """A busy computer hands on its letters late; what a hand had begun stands as it was."""
    tag = payload(Kit("left wing top", (1, 2, 3, 4, 7), 0.62, 300))
    line, at_ms = Line(), 0
    for char in typed:
        at_ms += 300
        line.put(char, at_ms)
    at_ms += 500
    for place, char in enumerate(tag):
        at_ms += 5 + (pause_ms if place == gap % len(tag) else 0)
        line.put(char, at_ms)
    assert line.scanned(at_ms + 5) == tag
    assert line.text == typed.strip()


@given(
    card=st.sampled_from(COMMANDS),
    gap_ms=st.integers(1, BOUNCE_MS),
    typed=st.sampled_from(["", "41"]),
)
def test_a_card_leaves_the_line_as_it_was_however_soon_a_letter_comes_again(
    card: str, gap_ms: int, typed: str
) -> None:
    """The second u of usedup is as soon after the first as a bouncing key's."""
    keys, line, at_ms = Keys(), Line(), 0

    def put(text: str, every_ms: int) -> None:
        nonlocal at_ms
        for char in text:
            line.put(char, at_ms, new=keys.fresh(char, at_ms))
            keys.letter(char, at_ms)
            keys.release(char, at_ms + 1)
            at_ms += every_ms

    put(typed, 300)
    at_ms += 500
    put(card, gap_ms)
    assert keys.scanned(at_ms)[1] == card
    line.take_out(card)
    assert line.text == typed


@given(gap_ms=st.integers(1, FAST_MS), repeats=st.integers(0, 9))
def test_a_held_digit_before_a_tag_is_one(gap_ms: int, repeats: int) -> None:
    tag, line, at_ms = payload(Kit("rib 3", (1,), 0.2, 300)), Line(), 0
    for char, new in [("4", True), *[("4", False)] * repeats, ("1", True)]:
        at_ms += 300
        line.put(char, at_ms, new=new)
    for char in tag:
        at_ms += gap_ms
        line.put(char, at_ms)
    assert line.scanned(at_ms + gap_ms) == tag
    assert line.text == "41"


def test_the_blank_of_what_was_poured_is_no_pedal_however_slowly_it_is_typed() -> None:
    keys = Keys()
    assert scan(keys, "was fast hardener", 10_000, gap_ms=700) == [""]
    assert keys.read == "was fast hardener"
    assert press(keys, "space", 30_000, " ") == "go"
    assert scan(keys, "wash up", 40_000, gap_ms=700) == ["go", ""]
