"""A scale with no cable in the window: its figures typed by real key events."""

from __future__ import annotations

import contextlib
import io
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from support.benches import EASE, PLACE
from support.desk import Desk, FakeShop, by_hand, desk
from Xlib import X
from Xlib.ext import xtest

from mixer.app.bench.shop import Shop
from mixer.app.clock import Clock
from mixer.app.picture import Display, Picture, ScaleView
from mixer.app.request import Request
from mixer.cli import main
from mixer.desk.typed import FAST_MS, Typing

RESIN = replace(
    PLACE, stage="pour", component="resin", net_ug=0, total_ug=0, target_ug=44_100_000,
    cue="pour", say="Pour resin until the scale shows 44.1 g.", scale=ScaleView("typed"),
    display=Display("", True, 44_100_000, call=7), simulated=False,
)  # fmt: skip
HARDENER = replace(
    EASE, net_ug=0, cue="pour", scale=ScaleView("typed"), simulated=False,
    say="Pour hardener until the scale shows 60.2 g (60.0 to 60.4 g).",
    display=Display("", True, 60_200_000, 60_000_000, 60_400_000, True, call=8),
)  # fmt: skip


@pytest.fixture
def bench(screen: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Desk]:
    monkeypatch.setattr("mixer.desk.keys.DOUBLE_MS", 50)  # no test here presses a pedal twice
    with desk(screen, FakeShop(RESIN)) as opened:
        yield opened


CASES: tuple[tuple[list[str], list[str]], ...] = (
    ([*"44.3", "space"], ["go 44.3"]),
    (["KP_4", "KP_4", "KP_Decimal", "KP_3", "space"], ["go 44.3"]),
    ([*"44.3", "KP_Enter"], ["go 44.3"]),
    (["4", "4", "comma", "3", "space"], ["go 44.3"]),
    ([*"44.35", "BackSpace", "space"], ["go 44.3"]),
    (["Up", "space"], ["go 44.1"]),
    (["Up", "Up", "Up", "space"], ["go 44.3"]),
    (["Down", "Down", "space"], ["go 44.0"]),
    (["Up", "Prior", "Next", "Next", "space"], ["go 43.1"]),
    (["space"], ["go"]),
    (["Return"], []),  # the end of some label
    ([*"44.3", "Escape"], ["hold"]),
    ([*"61", "F4"], ["use 61"]),
    ([*"61", "F5"], ["part 61"]),
    ([*"4..5", "space"], ["go 4.5"]),
    ([*"was", "space", *"42.1", "Return"], ["was 42.1"]),
)


def anew(bench: Desk, call: int) -> FakeShop:
    """Nothing typed, and nothing said."""
    bench.show(replace(RESIN, stage="ended"))
    assert RESIN.display is not None
    bench.show(replace(RESIN, display=replace(RESIN.display, call=call)))
    bench.shop.words.clear()
    return bench.shop  # type: ignore[no-any-return]


def test_the_figure_goes_along_with_the_word(bench: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    for call, (keys, words) in enumerate(CASES):
        shop = anew(bench, call)
        by_hand(bench, *keys)
        assert shop.words == words, keys


def test_a_total_put_right_leaves_the_figure_that_stands_there(bench: Desk) -> None:
    by_hand(bench, *"44.3")
    time.sleep(1.6 * FAST_MS / 1000)
    by_hand(bench, *"was", "space", *"42.1", "Return", "space")
    assert bench.shop.words == ["was 42.1", "go 44.3"]


def test_digits_in_quick_succession_are_a_figure(bench: Desk) -> None:
    bench.type("43.1")
    by_hand(bench, "space")
    assert bench.shop.words == ["go 43.1"]


def test_ten_steps_at_once_with_shift(bench: Desk) -> None:
    by_hand(bench, "Up")
    bench.down("Shift_L")
    by_hand(bench, "Up", "Up")
    bench.up("Shift_L")
    by_hand(bench, "space")
    assert bench.shop.words == ["go 46.1"]


def test_what_is_typed_stands_there_large_and_asked_and_keys_are_shown(bench: Desk) -> None:
    assert "44.1 g" in bench.texts()
    assert "no cable: weights are typed" in bench.texts()
    by_hand(bench, *"44.")
    assert "44. g" in bench.texts()
    assert "asked 44.1 g" in bench.texts()
    assert not any("lost" in said or "stale" in said for said in bench.texts())


def test_a_key_that_is_held_is_one_digit(bench: Desk) -> None:
    bench.down("4")
    for _ in range(4):  # as a system repeats it
        bench.up("4")
        bench.down("4")
    bench.up("4")
    bench.settle()
    by_hand(bench, "4", "space")
    assert bench.shop.words == ["go 44"]


def test_after_a_refusal_a_digit_begins_anew_and_backspace_mends(bench: Desk) -> None:
    by_hand(bench, *"443", "space")
    by_hand(bench, "BackSpace", "space")
    by_hand(bench, *"44.3", "BackSpace", "4", "space")
    assert bench.shop.words == ["go 443", "go 44", "go 44.4"]


def test_a_figure_that_was_sent_and_erased_is_taken_back(bench: Desk) -> None:
    by_hand(bench, "4", "BackSpace", "4", "space", "BackSpace")
    assert bench.shop.words == ["go 4", "shows"]


def test_what_was_sent_goes_when_the_next_is_asked_for_and_what_was_not_stays(
    bench: Desk,
) -> None:
    by_hand(bench, *"44.3", "space")
    bench.show(HARDENER)
    assert "60.2 g" in bench.texts()
    by_hand(bench, "6")
    bench.show(replace(HARDENER, t_s=9.0))
    by_hand(bench, "1")
    assert "61 g" in bench.texts()
    by_hand(bench, "space")
    assert bench.shop.words == ["go 44.3", "go 61"]
    bench.show(replace(HARDENER, stage="ended", display=Display()))
    bench.show(RESIN)
    assert "44.1 g" in bench.texts()


def test_cards_and_labels_are_no_figure(bench: Desk) -> None:
    cards = (
        ("go\n", ["go 44"]), ("hold\n", ["hold"]), ("17go\n", []),
        ("4006381\n", []), ("17\n", []), ("lot 17\n", []), ("17 44.9\n", []),
        ("r-17 44.9\n", ["jug r-17 44.9"]),
    )  # fmt: skip
    for call, (card, words) in enumerate(cards):
        shop = anew(bench, call)
        by_hand(bench, *"44")
        time.sleep(1.5 * FAST_MS / 1000)
        bench.type(card)
        assert shop.words == words, card
        assert "44 g" in bench.texts()


def test_a_jugs_tag_of_digits_is_no_figure(bench: Desk) -> None:
    bench.show(replace(RESIN, tags=("4006381333931", "17")))
    by_hand(bench, *"44")
    for tag in ("4006381333931", "17"):
        time.sleep(1.5 * FAST_MS / 1000)
        bench.type(f"{tag}\n")
        assert "44 g" in bench.texts()
    by_hand(bench, "space")
    assert bench.shop.words == ["jug 4006381333931", "jug 17", "go 44"]


@pytest.mark.parametrize("tag", ["1a 2", "12 a", "44.5-b", "a1 7", ".5 x", "11"])
def test_a_jugs_tag_arrives_whole_whatever_of_it_is_digits(bench: Desk, tag: str) -> None:
    bench.show(replace(RESIN, tags=(tag,)))
    bench.type(f"{tag}\n")
    assert bench.shop.words == [f"jug {tag}"]
    by_hand(bench, "space")
    assert bench.shop.words[1:] == ["go"]


def test_a_label_is_read_as_it_is_printed() -> None:
    typing = Typing()
    for n, char in enumerate("1,5"):
        typing.put(Typing.character("", char), 1000 + n, read=char)
    assert typing.text == "1.5"
    assert typing.label("Return", "", 1004) == "1,5"
    assert typing.text == ""


def test_a_note_and_a_cup_to_close_have_their_own_digits(bench: Desk) -> None:
    by_hand(bench, "F3", *"2", "Return", "F2", "Down", "5", "Escape", "space")
    assert bench.shop.notes == ["2"]
    assert bench.shop.words == ["go"]


def test_the_pad_on_the_screen_is_the_same_keys(bench: Desk) -> None:
    bench.until(lambda: "go" in bench.texts())
    (pad,) = [c for c in bench.canvases() if c.find_withtag("keygo")]

    def touch(*keys: str) -> None:
        for key in keys:
            time.sleep(0.08)
            left, top, right, bottom = pad.bbox(f"box{key}")
            x, y = pad.winfo_rootx() + (left + right) // 2, pad.winfo_rooty() + (top + bottom) // 2
            xtest.fake_input(bench._display, X.MotionNotify, x=x, y=y)
            for kind in (X.ButtonPress, X.ButtonRelease):
                xtest.fake_input(bench._display, kind, 1)
            bench.settle()

    touch("4", "4", ".", "5", "BackSpace", "2", "Up", "go")
    assert bench.shop.words == ["go 44.3"]
    size = min(right - left for left, _, right, _ in [pad.bbox("box5")])
    assert size > 60  # pixels of a small screen: a gloved finger's


def test_a_figure_that_is_wrong_steps_from_what_is_asked_for() -> None:
    typing = Typing()
    typing.put(".", 0)
    typing.step(1, Display("", True, 44_100_000), 100_000)
    assert typing.text == "44.1"
    typing.step(-1000, Display("", True, 44_100_000), 100_000)
    assert typing.text == "0.0"


def test_a_whole_batch_in_the_window(
    screen: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with contextlib.redirect_stdout(io.StringIO()):
        confirm = ["resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight"]
        assert main(confirm) == 0
    shop = Shop(tmp_path / "record.cupside", clock=Clock(8), give_up_s=None)
    shop.start_up()
    asked = Request("sample-36", "60g", "typed:", stir="1s", cup="paper-300")

    def picture() -> Picture:
        return bench.window.scene.picture

    with desk(screen, shop, asked) as bench:
        bench.until(lambda: picture().stage == "cup")
        bench.press("space")
        bench.until(lambda: picture().component == "resin")
        by_hand(bench, *"44.3")
        bench.until(lambda: "44.3 g" in bench.texts())
        bench.grab("typed")
        time.sleep(0.6)
        by_hand(bench, "space")
        bench.until(lambda: picture().component == "hardener")
        assert picture().contact_age_s is not None
        time.sleep(0.6)
        bench.press("space")
        bench.until(lambda: picture().stage == "live")
        assert picture().verdict == "unproven"
        assert any("not shown to be right" in said for said in bench.texts())
