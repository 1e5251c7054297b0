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

from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.desk.pace import MEAN_MS, MOST_MS, scanned
from mixer.plan.tags import Numbered, payload

SCANNERS_MS = (1, 8, 20, 50)
HANDS_MS = (75, 120, 250, 500, 1200)
COMMANDS = (*CARDS, *OF_THE_WINDOW)


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


gaps = st.lists(st.integers(0, 400), min_size=2, max_size=12)


@given(gaps)
def test_a_burst_is_as_fast_as_no_hand_in_the_mean_and_nowhere_slow(gaps_ms: list[int]) -> None:
    times = [sum(gaps_ms[:n]) for n in range(len(gaps_ms))]
    text = "abcdefghijkl"[: len(gaps_ms)]
    said = scanned(text, times, sum(gaps_ms))
    assert text.endswith(said)
    whole = max(gaps_ms) <= MOST_MS and sum(gaps_ms) <= MEAN_MS * len(gaps_ms)
    assert (said == text) == whole


def test_a_card_that_was_held_up_once_is_one() -> None:
    assert scanned("hold", [0, 5, 160, 165], 170) == "hold"
    assert scanned("hold", [0, 5, 300, 305], 310) == "ld"
    assert scanned("go", [0, 70], 140) == ""
    assert scanned("go", [0, 8], 0) == ""  # a clock that began anew
