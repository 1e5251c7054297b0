"""The window stands before the program behind it is loaded, and loses nothing by it."""

from __future__ import annotations

import pytest
from support.benches import READY
from support.desk import Desk, FakeShop

from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.desk import window
from mixer.desk.late import LateShop, open_window_first
from mixer.desk.window import NoScreen

ASKED = Request("sample-36", "60 g", "sim:")


def late_desk(screen: str, late: LateShop[FakeShop], request: Request | None) -> Desk:
    return Desk(screen, late, request, on_first_drawn=late.open)


def test_what_was_asked_for_first_is_asked_of_the_shop_once(screen: str) -> None:
    late = LateShop(FakeShop)
    bench = late_desk(screen, late, ASKED)
    assert late.shop is not None
    assert late.shop.started == [ASKED]
    bench.end()
    assert late.shop.stopped == "the test is over"


def test_the_ready_window_offers_what_there_is_once_that_is_known(screen: str) -> None:
    late = LateShop(lambda: FakeShop(READY))
    bench = late_desk(screen, late, None)
    bench.until(lambda: bench.window.scene.picture is READY)
    bench.press("Down", "Tab")  # the port is there; the resin is for the builder to choose
    bench.type("60 g\n")
    assert late.shop is not None
    assert late.shop.started == [Request("sample-28", "60 g", "sim:")]
    bench.press("F2", "Return")
    assert late.shop.closed == [(1, "used-up", None)]
    bench.end()


def test_nothing_is_shown_done_or_stopped_before_there_is_a_shop() -> None:
    late = LateShop(FakeShop)
    late.key("go")
    late.close_cup(1, "discard", None)
    late.stop("window closed")
    assert late.shop is None
    assert late.picture() is late.picture()  # the same object until something changed
    assert late.picture() == Picture()
    assert late.choices().resins == ()


def test_the_shop_is_given_back_stopped(screen: str, monkeypatch: pytest.MonkeyPatch) -> None:
    class Refusing(FakeShop):
        def start(self, request: Request) -> None:
            super().start(request)
            self.shown = Picture(serial=1, stage="ended", outcome="dropped", verdict="unproven")

    monkeypatch.setattr(window, "LEAVE_MS", 50)
    shop = open_window_first(Refusing, ASKED, leave_when_over=True)
    assert shop is not None
    assert (shop.started, shop.stopped) == ([ASKED], "the batch is over")


def test_without_a_screen_there_is_no_shop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    made: list[FakeShop] = []
    with pytest.raises(NoScreen):
        open_window_first(lambda: made.append(FakeShop()) or made[0], ASKED)
    assert made == []
