"""The window at a record with a batch that was cut off: one press goes on with it."""

from __future__ import annotations

from dataclasses import replace

from support.benches import READY
from support.desk import FakeShop, desk

from mixer.app.request import Request
from mixer.desk.late import LateShop

ASKED = Request("sample-36", "80 g", "sim:", hands_free=True, stir="90 s", layup="rudder skin")
CUT_OFF = replace(READY, say="Batch 7, 80 g of sample-36, was cut off 3 min ago.", offer=ASKED)


def test_what_was_cut_off_is_filled_in_and_one_press_goes_on_with_it(screen: str) -> None:
    late = LateShop(lambda: FakeShop(CUT_OFF))
    with desk(screen, late, on_first_drawn=late.open) as bench:
        bench.until(lambda: bench.window.scene.picture is CUT_OFF)
        bench.until(lambda: any("Batch 7" in said for said in bench.texts()))
        bench.press("Return")
        assert late.shop is not None
        assert late.shop.started == [ASKED]


def test_what_somebody_has_begun_to_fill_in_stays(screen: str) -> None:
    shop = FakeShop(READY)
    with desk(screen, shop) as bench:
        bench.press("Down", "Down")
        bench.show(CUT_OFF)
        bench.press("Tab")
        bench.type("60 g\n")
        assert [(asked.resin, asked.size) for asked in shop.started] == [("sample-36", "60 g")]
