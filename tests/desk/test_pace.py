"""A card is told from typing by the times that the server stamped on its keys: real events,
whose pace is data.

A wedge scanner sends a letter each 1 to 50 ms (common practice, no source). The fastest of
136 million keystrokes typed theirs about 60 ms apart, most 120 to 240 ms (from memory).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.benches import EASE, FIRST, LIVE, READY, SHARE
from support.desk import Opener

from mixer.app.picture import Display, Picture, ScaleView
from mixer.desk.keys import COMMANDS
from mixer.desk.pace import LATE_MS, MEAN_MS, scanned
from mixer.plan.tags import Numbered, payload

SCANNERS_MS = (1, 8, 20, 50)
HANDS_MS = (75, 120, 250, 500, 1200)
TYPED = replace(
    EASE, scale=ScaleView("typed"), display=Display("", True, 60_200_000, 60_000_000, 60_400_000)
)


@pytest.mark.parametrize("gap_ms", SCANNERS_MS)
def test_a_scanned_card_counts_at_the_pour_and_in_a_note(opened: Opener, gap_ms: int) -> None:
    bench, shop = opened()
    for n, card in enumerate(("hold", "go", "split", "moved", "use", "part")):
        shop.words.clear()
        bench.type(f"{card}\n", gap_ms, from_ms=1_000_000 + 60_000 * n)
        bench.press("F3")
        bench.type(f"{card}\n", gap_ms, from_ms=1_030_000 + 60_000 * n)
        bench.press("Escape")
        assert (shop.words, shop.notes) == ([card, card], []), card


@pytest.mark.parametrize("gap_ms", HANDS_MS)
def test_a_word_that_is_typed_at_the_pour_is_no_card_and_that_is_said(
    opened: Opener, gap_ms: int
) -> None:
    bench, shop = opened(replace(EASE, live_cups=(FIRST,)))
    for n, word in enumerate((*COMMANDS, "drop")):  # twice, as it would have to be
        bench.type(f"{word}\n", gap_ms, from_ms=1_000_000 + 60_000 * n)
        assert shop.words == [f"typed {word}"], word
        assert (shop.closed, shop.started) == ([], [])
        assert "DROP?" not in bench.texts()
        shop.words.clear()


@pytest.mark.parametrize("gap_ms", HANDS_MS)
def test_what_is_typed_into_a_note_is_a_note_whatever_it_says(opened: Opener, gap_ms: int) -> None:
    bench, shop = opened(replace(EASE, tags=("r-17",), live_cups=(FIRST,)))
    for n, word in enumerate((*COMMANDS, "r-17")):
        bench.press("F3")
        bench.type(f"{word}\n", gap_ms, from_ms=1_000_000 + 60_000 * n)
        assert (shop.words, shop.notes, shop.closed) == ([], [word], []), word
        shop.notes.clear()


@pytest.mark.parametrize("gap_ms", HANDS_MS)
def test_what_is_typed_into_the_next_batchs_fields_is_theirs(opened: Opener, gap_ms: int) -> None:
    bench, shop = opened(replace(READY, live_cups=(FIRST,)))
    size = bench.window._layout.form.fields["size"]
    for n, word in enumerate(("next", "usedup", "hold")):
        size.set("")
        size.entry.focus_force()
        bench.settle()
        bench.type(f"{word}\n", gap_ms, from_ms=1_000_000 + 60_000 * n)
        assert [asked.size for asked in shop.started] == [word]
        assert (shop.words, shop.closed) == ([], [])
        shop.started.clear()


@pytest.mark.parametrize("gap_ms", [*SCANNERS_MS, *HANDS_MS])
def test_a_tag_and_a_name_count_at_any_pace(opened: Opener, gap_ms: int) -> None:
    tag = payload(Numbered(7))
    bench, shop = opened(EASE)
    bench.type(f"{tag}\n", gap_ms, from_ms=1_000_000)
    bench.press("F3")
    bench.type(f"{tag}\n", gap_ms, from_ms=1_100_000)
    bench.press("Escape")
    bench.show(SHARE)
    bench.type("wet\n", gap_ms, from_ms=1_200_000)
    assert (shop.words, shop.notes) == ([f"jug {tag}", f"jug {tag}", "filler wet"], [])


def test_after_a_batch_a_typed_word_leads_nowhere(opened: Opener) -> None:
    bench, _ = opened(LIVE)
    bench.type("next\n", 120, from_ms=1_000_000)
    assert "Next batch" not in bench.texts()
    bench.type("next\n", 8, from_ms=1_100_000)
    assert "Next batch" in bench.texts()


def test_a_letter_that_was_hit_before_a_card_is_no_part_of_it(opened: Opener) -> None:
    bench, shop = opened()
    bench.type("x", from_ms=1_000_000)
    bench.type("hold\n", 8, from_ms=1_000_700)
    assert shop.words == ["hold"]


def test_a_key_that_was_hit_before_a_card_stays_what_it_was(opened: Opener) -> None:
    bench, shop = opened(replace(TYPED, live_cups=(FIRST,)))
    for n, gap_ms in enumerate((0, 5, 35, 90, 200, 700)):
        shop.words.clear()
        for m, stray in enumerate(("x", "7", "xy")):
            at_ms = 1_000_000 + 60_000 * n + 5_000 * m
            bench.type(stray, 5, from_ms=at_ms)
            bench.type("hold\n", 3, from_ms=at_ms + 5 * (len(stray) - 1) + gap_ms)
            assert shop.words == ["hold"] * (m + 1), (stray, gap_ms)
            bench.press("BackSpace")
    shop.words.clear()
    bench.type("44.3", 120, from_ms=3_000_000)
    bench.type("go\n", 3, from_ms=3_000_000 + 360 + 35)
    assert shop.words == ["go 44.3"]


@pytest.mark.parametrize("text", ["x", "left wing", "go on"])
def test_a_card_scanned_right_behind_what_a_hand_wrote_leaves_that_alone(
    opened: Opener, text: str
) -> None:
    bench, shop = opened(replace(EASE, live_cups=(FIRST,)))
    for n, gap_ms in enumerate((20, 155, 400)):
        at_ms = 1_000_000 + 60_000 * n
        bench.press("F3")
        bench.type(text, 90, from_ms=at_ms)
        bench.type("hold\n", 5, from_ms=at_ms + 90 * (len(text) - 1) + gap_ms)
        assert (shop.words, shop.notes) == (["hold"], [])
        bench.press("Return")
        assert shop.notes == [text]
        shop.words.clear()
        shop.notes.clear()


def test_a_key_that_was_hit_beside_a_line_is_no_part_of_a_card(opened: Opener) -> None:
    bench, shop = opened(Picture(stage="cup", asks_cloth=True, scale=ScaleView("fresh", "0.0 g")))
    for n, pace_ms in enumerate((3, 50)):
        bench.type("4x", 120, from_ms=1_000_000 + 60_000 * n)
        bench.type("hold\n", pace_ms, from_ms=1_000_120 + 60_000 * n + 20)
        assert shop.words == ["hold"] * (n + 1)
        assert bench.window.scene.typed == "4x"
        bench.press("BackSpace", "BackSpace")


def said(text: str, gaps_ms: list[int]) -> str:
    """What is scanned of ``text``, so long after each of its letters the next, at last Enter."""
    times = [sum(gaps_ms[:n]) for n in range(len(gaps_ms))]
    return scanned(text, times, sum(gaps_ms), COMMANDS)


words = st.sampled_from(COMMANDS)
texts = st.text("abcdefghijklmnopqrstuvwxyz 0123456789", max_size=12)


@given(words, texts, st.sampled_from(["", "x", "7"]), st.data())
def test_a_card_is_one_whatever_came_before_it(
    card: str, text: str, stray: str, data: st.DataObject
) -> None:
    """Typed by a hand, or one key that was hit: at any time before it."""
    pace_ms = data.draw(st.integers(0, 50))
    hand = data.draw(st.lists(st.integers(85, 1400), min_size=len(text), max_size=len(text)))
    hit = [data.draw(st.integers(0, 200)) for _ in stray]
    assert said(text + stray + card, [*hand, *hit, *[pace_ms] * len(card)]) == card


@given(words, texts, st.data())
def test_what_a_hand_types_is_no_card_whatever_it_ends_with(
    card: str, text: str, data: st.DataObject
) -> None:
    size = len(text + card)
    gaps_ms = data.draw(st.lists(st.integers(68, 400), min_size=size, max_size=size))
    assert said(text + card, gaps_ms) == ""


@given(words, st.text("abcdefghijklmnopqrstuvwxyz", min_size=3, max_size=12), st.data())
def test_a_code_that_ends_with_a_cards_word_is_none(
    card: str, text: str, data: st.DataObject
) -> None:
    size = len(text + card)
    pace_ms = data.draw(st.integers(0, 50))
    late = data.draw(st.lists(st.integers(0, 9), min_size=size, max_size=size))
    assert said(text + card, [pace_ms + ms for ms in late]) == ""


@pytest.mark.parametrize("gaps_ms", [[35, 80], [50, 70], [30, 85], [70, 70], [5, 100]])
def test_a_go_that_is_rolled_by_hand_is_none(gaps_ms: list[int]) -> None:
    assert said("go", gaps_ms) == ""


def test_the_slowest_scanner_may_be_a_little_uneven() -> None:
    assert (said("use", [52, 61, 55]), said("hold", [50, 63, 48, 66])) == ("use", "hold")
    assert said("go", [50, 65]) == "go"


@pytest.mark.parametrize("late_ms", [60, 100, 155, 200, 201])
@pytest.mark.parametrize("pace_ms", [0, 5, 10, 20, 50])
def test_a_card_may_be_held_up_once(pace_ms: int, late_ms: int) -> None:
    for at in range(4):
        gaps_ms = [late_ms if n == at else pace_ms for n in range(4)]
        is_one = late_ms <= LATE_MS and sum(gaps_ms) <= 4 * MEAN_MS
        assert said("hold", gaps_ms) == ("hold" if is_one else "")
        assert (said("hold", gaps_ms) == "hold") or pace_ms > 10 or late_ms > LATE_MS
    assert said("hold", [late_ms + 6, late_ms + 6, 0, 0]) == ""


def test_of_two_cards_the_longer_one_is_meant_and_no_clock_runs_back() -> None:
    assert scanned("lot-use", [0, 5, 10, 15, 20, 25, 30], 35, ["use", "lot-use"]) == "lot-use"
    assert said("go", [8, -8]) == ""
    assert scanned("", [], 5, COMMANDS) == ""
