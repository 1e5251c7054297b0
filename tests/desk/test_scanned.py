"""Tags and cards of our own sheet, typed into the window as a scanner types them."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from support.benches import EASE, FIRST, LIVE, READY, SECOND
from support.desk import Desk, FakeShop

from mixer.app.picture import Display, Picture, ScaleView
from mixer.app.tags.tag_cards import command_cards
from mixer.plan.tags import Kit, Numbered, payload

KIT = payload(Kit("left wing top", (1, 2, 3, 4, 7), 0.62, 300.0))
TYPED = replace(
    EASE, scale=ScaleView("typed"), display=Display("", True, 60_200_000, 60_000_000, 60_400_000)
)

Opener = Callable[[Picture], tuple[Desk, FakeShop]]


@pytest.fixture
def opened(screen: str) -> Iterator[Opener]:
    """Opens a window on a picture; it goes with the test."""
    open_ones: list[Desk] = []

    def opener(picture: Picture) -> tuple[Desk, FakeShop]:
        shop = FakeShop(picture)
        open_ones.append(Desk(screen, shop, None))
        return open_ones[0], shop

    yield opener
    open_ones[0].end()


@pytest.mark.parametrize("picture", [EASE, TYPED, LIVE], ids=["pour", "typed", "live"])
def test_a_tag_is_looked_at_at_any_bench_and_is_no_figure(opened: Opener, picture: Picture) -> None:
    bench, shop = opened(picture)
    bench.type(KIT.upper() + "\n")
    bench.press("x", *payload(Numbered(7)), "Return")  # however slowly, and a key hit before it
    assert shop.words == [f"jug {KIT}", f"jug {payload(Numbered(7))}"]
    assert bench.window.scene.typed == ""
    assert (shop.started, shop.closed) == ([], [])


def test_a_tag_scanned_into_a_field_is_taken_out_of_it_again(opened: Opener) -> None:
    bench, shop = opened(EASE)
    bench.press("F3")
    bench.type(f"soft spot {KIT}\n")
    assert (shop.words, shop.notes) == ([f"jug {KIT}"], [])
    bench.press("Return")
    assert shop.notes == ["soft spot"]


def test_a_tag_scanned_as_the_next_batch_is_chosen_starts_none(opened: Opener) -> None:
    bench, shop = opened(READY)
    bench.press("Down", "Tab")
    bench.type(f"60 g{KIT}\n")
    assert (shop.words, shop.started) == ([f"jug {KIT}"], [])
    bench.press("Return")
    assert [asked.size for asked in shop.started] == ["60 g"]


def look_of(entry: tk.Entry) -> tuple[str, int, bool]:
    return entry.get(), entry.index("insert"), entry.selection_present()


def test_a_field_is_what_it_was_before_a_scan_over_its_marked_text(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mixer.desk.keys.DOUBLE_MS", 1)  # each card counts
    bench, shop = opened(replace(READY, live_cups=(FIRST,)))
    size = bench.window._layout.form.fields["size"]
    size.set("80 g")
    for scan, words in ((KIT, [f"jug {KIT}"]), ("next", []), ("usedup", []), ("use", [])):
        size.entry.focus_force()
        bench.settle()
        for mark in ("marked", "at the end", "in the midst"):
            size.entry.selection_clear()
            size.entry.icursor("end" if mark == "at the end" else 1)
            if mark == "marked":
                size.entry.selection_range(0, "end")
            before = look_of(size.entry)
            shop.words.clear()
            bench.type(f"{scan}\n")
            assert (shop.words, look_of(size.entry)) == (words, before), (scan, mark)
    assert shop.started == []
    bench.type("go\n")  # begins what the fields say
    assert [asked.size for asked in shop.started] == ["80 g"]
    assert [cup for cup, *_ in shop.closed] == [1] * 3


def test_however_slowly_a_tag_is_scanned_the_marked_text_comes_back(opened: Opener) -> None:
    bench, shop = opened(READY)
    size = bench.window._layout.form.fields["size"]
    size.set("80 g")
    size.entry.focus_force()
    bench.settle()
    bench.type(f"{KIT}\n", 700, from_ms=1_000_000)
    assert (shop.words, size.text) == ([f"jug {KIT}"], "80 g")
    bench.press("9", "0", "space", "g", "Return")  # typed over the marked text
    size.entry.focus_force()
    bench.press("End")
    bench.type("next\n", 120, from_ms=2_000_000)  # by hand it is text
    assert [asked.size for asked in shop.started] == ["90 g", "90 gnext"]


def test_a_foreign_code_is_handed_on_too_and_a_word_is_not(opened: Opener) -> None:
    bench, shop = opened(EASE)
    bench.type("4006381333931\nlot 17\n")
    assert shop.words == ["jug 4006381333931"]


def test_each_card_of_the_sheet_does_what_it_says(opened: Opener) -> None:
    bench, shop = opened(replace(EASE, live_cups=()))
    for card in command_cards():
        shop.words.clear()
        bench.type(card.code + "\n")
        if card.code == "drop":
            bench.press("Return")  # once more
        assert shop.words == [card.code]
    assert shop.closed == []


def test_next_leads_to_the_fields_of_the_next_batch(opened: Opener) -> None:
    bench, shop = opened(LIVE)
    bench.type("next\n")
    assert "Next batch" in bench.texts()
    assert shop.words == []


@pytest.mark.parametrize("picture", [EASE, LIVE, READY], ids=["pour", "live", "ready"])
def test_used_up_closes_the_one_live_cup(opened: Opener, picture: Picture) -> None:
    bench, shop = opened(replace(picture, live_cups=(FIRST,)))
    bench.type("usedup\nusedup\n")  # a scanner that reads it twice
    assert shop.closed == [(1, "used-up", None)]
    assert (shop.words, shop.started) == ([], [])


def test_used_up_asks_which_of_several(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mixer.desk.keys.DOUBLE_MS", 50)
    bench, shop = opened(replace(LIVE, live_cups=(SECOND, FIRST)))
    bench.type("usedup\n")
    assert shop.closed == []
    bench.press("Down", "Tab", "Down")  # to the other, and to "discard": the card says otherwise
    bench.type("usedup\n")
    assert (shop.closed, bench.window.asides.open) == ([(2, "used-up", None)], False)


def test_a_kit_scanned_with_no_batch_on_asks_for_one_by_its_cloth(opened: Opener) -> None:
    bench, shop = opened(LIVE)
    bench.type(KIT + "\n")
    assert shop.words == [f"jug {KIT}"]
    assert bench.window.scene.choosing
    assert shop.started == []
    bench.window._layout.form.fields["resin"].set("sample-36")
    bench.press("Return")
    assert [asked.size for asked in shop.started] == ["kit"]


def test_a_kit_scanned_after_a_batch_is_not_of_its_size(opened: Opener) -> None:
    bench, shop = opened(READY)
    fields = bench.window._layout.form.fields
    fields["resin"].set("sample-36")
    fields["size"].set("80 g")
    bench.press("Return")
    bench.type(KIT + "\n")
    bench.press("Return")
    assert [asked.size for asked in shop.started] == ["80 g", "kit"]


def test_before_its_cup_kits_are_scanned_and_taken_by_the_pedal(opened: Opener) -> None:
    said = "100 g of dry cloth (rib 3 plies 1-2): apply about 104 g. go takes it."
    bench, shop = opened(
        Picture(stage="cup", cue="wait", say=said, scale=ScaleView("fresh", "0.0 g"))
    )
    bench.type(KIT + "\n")
    bench.press("space", "Escape")
    assert shop.words == [f"jug {KIT}", "go", "hold"]
    assert bench.window.scene.trouble == ""
