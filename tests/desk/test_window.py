"""The real window on a screen of its own, driven by real X key events."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image, ImageGrab
from support.screen import own_screen
from Xlib import XK, X
from Xlib.display import Display
from Xlib.ext import xtest

from mixer.app.picture import LiveCup, Picture, Row, ScaleView
from mixer.app.request import Choices, Request
from mixer.desk.window import open_window

PICTURES = Path(__file__).parents[1] / "pictures"

POURING = Picture(
    serial=1, stage="pour", component="hardener", net_ug=9_500_000, total_ug=52_700_000,
    target_ug=15_500_000, low_ug=15_200_000, high_ug=15_900_000, cue="ease",
    say="Gently: 6.0 g of hardener to go.", batch=2, division_ug=100_000, resin_system="sample-36",
    size_ug=60_000_000, scale=ScaleView("fresh", "64.7 g", ""),
    rows=(Row("resin", "resin", 100, 43_200_000, 43_000_000, True),
          Row("hardener", "hardener", 36, 9_500_000, 15_500_000, False)),
    live_cups=(LiveCup(1, 1, "sample-36", 79_200_000, 432.0, "in-band",
                       "25 min for 100 g at 25 degC"),),
    ratio_target=36.0, contact_age_s=24.0, simulated=True,
    resin_source="invented for cupside: no maker's product",
)  # fmt: skip


@pytest.fixture(scope="module")
def screen() -> Iterator[str]:
    yield from own_screen()


class FakeShop:
    """Shows one picture and keeps what it is told."""

    def __init__(self, picture: Picture) -> None:
        self.shown = picture
        self.words: list[str] = []
        self.stopped = ""

    def picture(self) -> Picture:
        return self.shown

    def choices(self) -> Choices:
        return Choices(("sample-36",), (), ("sma",), ("sim:",))

    def start(self, request: Request) -> None:
        self.words.append("start")

    def key(self, word: str, text: str = "") -> None:
        self.words.append(word)
        if word == "hold":  # so that the test can end the window
            ended = {"stage": "ended", "outcome": "dropped", "verdict": "out-of-band"}
            self.shown = Picture(serial=2, cue="wait", say="Ended.", batch=1, **ended)

    def close_cup(self, cup: int, how: str, left: str | None) -> None:
        self.words.append(how)

    def stop(self, why: str) -> None:
        self.stopped = why


def grab(name: str) -> Image.Image:
    """What stands on the screen, cut to the window that is on it."""
    picture = ImageGrab.grab(xdisplay=name)
    return picture.crop(picture.getbbox())


def press(name: str, key: str) -> None:
    display = Display(name)
    code = display.keysym_to_keycode(XK.string_to_keysym(key))
    xtest.fake_input(display, X.KeyPress, code)
    xtest.fake_input(display, X.KeyRelease, code)
    display.sync()
    display.close()


def test_space_goes_on_and_escape_holds(screen: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DISPLAY", screen)
    shop = FakeShop(POURING)
    drawn = threading.Event()

    def builder() -> None:
        drawn.wait(10)
        until = time.monotonic() + 10
        picture, same = grab(screen), 0
        while same < 5 and time.monotonic() < until:  # until nothing more is drawn
            time.sleep(0.05)
            before, picture = picture, grab(screen)
            same = same + 1 if before.tobytes() == picture.tobytes() else 0
        picture.save(PICTURES / "bench.png")
        for key, word in (("space", "go"), ("Escape", "hold")):
            press(screen, key)
            while word not in shop.words and time.monotonic() < until:
                time.sleep(0.02)

    hands = threading.Thread(target=builder)
    hands.start()
    open_window(
        shop, Request("sample-36", "60g", "sim:"), leave_when_over=True, on_first_drawn=drawn.set
    )
    hands.join()
    assert (PICTURES / "bench.png").stat().st_size > 5_000  # an empty screen is smaller
    assert shop.words[:1] == ["start"]
    assert shop.words.count("go") == 1
    assert shop.words.count("hold") == 1
