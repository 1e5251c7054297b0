"""The weight of dry cloth typed into the window, before the cup: real key events."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from support.desk import Desk, FakeShop, by_hand, desk, texts_of

from mixer.app.bench.kit_size import Asked, size_of
from mixer.app.picture import Picture, ScaleView
from mixer.desk.line import FAST_MS, Line
from mixer.plan.tags import Kit, payload

KIT = payload(Kit("rib 3", (1, 2), 0.15, 300.0))
BEFORE = Picture(
    stage="cup", cue="go", say="go takes 46.8 g for rib 3 plies 1-2.", size_ug=46_800_000,
    scale=ScaleView("typed"), asks_cloth=True,
)  # fmt: skip


@pytest.fixture
def bench(screen: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    monkeypatch.setattr("mixer.desk.keys.DOUBLE_MS", 50)  # no test here presses a pedal twice
    with desk(screen, FakeShop(BEFORE)) as opened:
        yield opened


CASES: tuple[tuple[list[str], list[str]], ...] = (
    ([*"412", "Return"], ["kit 412 g"]),
    ([*"412g", "Return"], ["kit 412g"]),
    ([*"kit 50g", "Return"], ["kit 50g"]),
    ([*"Kit 50 g", "KP_Enter"], ["kit 50 g"]),
    (["KP_4", "KP_4", "KP_Decimal", "KP_3", "Return"], ["kit 44.3 g"]),
    (["4", "4", "comma", "3", "Return"], ["kit 44.3 g"]),
    (["1", "comma", "2", "0", "0", "Return"], ["kit 1,200 g"]),  # to be refused, not 1.2 g
    ([*"14oz", "Return"], ["kit 14oz"]),  # what is said with its unit is that
    ([*"4123", "BackSpace", "Return"], ["kit 412 g"]),
    (["space"], ["go"]),
    (["Return"], []),
    ([*"50", "space"], []),  # a pedal beside a figure that nobody has confirmed takes nothing
    ([*"50", "space", "Return"], ["kit 50 g"]),
    ([*"50", "Escape"], []),  # leaves the figure, not the kits
    ([*"50", "Escape", "space"], ["go"]),
    ([*"50", "BackSpace", "BackSpace", "space"], ["go"]),
    (["Escape"], ["hold"]),
    ([*"kt 50", "Return"], ["kit kt 50"]),  # the bench says that it is none
    ([*"hold", "Return"], ["hold"]),
    ([*"go", "Return"], ["go"]),
    (["F3", *"50", "Return", "space"], ["go"]),
)


def test_what_is_typed_is_the_cloths_weight_and_no_blank_in_it_is_the_pedal(bench: Desk) -> None:
    for keys, words in CASES:
        bench.show(replace(BEFORE, stage="ended", asks_cloth=False))
        bench.show(replace(BEFORE))
        bench.shop.words.clear()
        by_hand(bench, *keys)
        assert bench.shop.words == words, keys


def test_it_stands_there_large_with_its_unit_and_the_keys_are_told(bench: Desk) -> None:
    assert any("dry cloth" in said and "Enter" in said for said in bench.texts())
    by_hand(bench, *"412")
    assert "412 g" in bench.texts()
    assert any("Enter takes it" in said for said in bench.texts())
    bench.show(replace(BEFORE, asks_cloth=False))
    assert bench.window.scene.typed == ""


def test_however_slowly_a_blank_among_letters_is_no_pedal(
    bench: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mixer.desk.keys.TEXT_MS", 300)
    by_hand(bench, *"kit")
    time.sleep(0.4)  # longer than letters are one card
    by_hand(bench, *" 50g", "Return")
    bench.type(f"{KIT}\n")
    by_hand(bench, *"40")
    time.sleep(0.4)
    by_hand(bench, "Return")
    assert bench.shop.words == ["kit 50g", f"jug {KIT}", "kit 40 g"]


def test_what_is_scanned_is_no_weight_and_what_was_typed_stays(bench: Desk) -> None:
    by_hand(bench, *"41")
    for scan, words in (
        (KIT, [f"jug {KIT}"]), ("17", []), ("hold", ["hold"]), ("usedup", ["usedup"]),
        ("4006381", []), ("4006381333931", ["jug 4006381333931"]), ("go", []),
    ):  # fmt: skip
        bench.shop.words.clear()
        time.sleep(1.6 * FAST_MS / 1000)
        bench.type(f"{scan}\n")
        assert bench.shop.words == words, scan
        assert bench.window.scene.typed == "41"
    by_hand(bench, "2", "Return")
    assert bench.shop.words == ["kit 412 g"]


def test_a_tag_however_slowly_after_a_key_that_was_hit_is_a_tag(bench: Desk) -> None:
    bench.press("x", *KIT, "Return")
    assert bench.shop.words == [f"jug {KIT}"]
    assert bench.window.scene.typed == ""


def test_a_key_that_is_held_is_one_digit(bench: Desk) -> None:
    bench.down("4")
    for _ in range(4):  # as a system repeats it
        bench.up("4")
        bench.down("4")
    bench.up("4")
    bench.settle()
    by_hand(bench, "1", "Return")
    assert bench.shop.words == ["kit 41 g"]


def test_a_line_ends_with_what_asked_for_it() -> None:
    line = Line()
    line.put("4", 0)
    assert line.text == "4"
    line.follow(False)
    assert line.text == ""


def test_all_that_is_said_of_kits_before_go_can_be_read(bench: Desk) -> None:
    kits = tuple(Kit("rib 3", (i,), 0.1, 300.0) for i in range(1, 21))
    asked = Asked(kits, 560_000_000, "sample-28", "paper-300", "sma", "41 degC", Path("none"))
    said = size_of(asked).say
    assert len(said) > 500
    for words in ("may be missing", "No working time", "too small"):
        assert words in said
    for wide, tall in ((760, 440), (1024, 600)):
        bench.window.root.geometry(f"{wide}x{tall}")
        bench.until(lambda wide=wide: bench.window.root.winfo_width() == wide)  # type: ignore[misc]
        bench.show(replace(BEFORE, asks_cloth=False, say="Put the empty cup on the scale."))
        plain_px = size_px(bench, "Put the empty cup on the scale.")
        bench.show(replace(BEFORE, say=said))
        assert size_px(bench, said) >= 0.64 * plain_px  # with all that can be said
        usual = size_of(replace(asked, kits=kits[:3], cloth_ug=None, air="22 degC")).say
        bench.show(replace(BEFORE, say=usual))
        assert size_px(bench, usual) >= plain_px


def size_px(bench: Desk, said: str) -> int:
    """How large this is written."""
    for canvas in bench.canvases():
        for item, text in texts_of(canvas):
            if text == said:
                return -int(canvas.itemcget(item, "font").split()[-1])
    raise AssertionError(f"{said!r} does not stand there")
