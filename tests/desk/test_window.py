"""How the window opens, goes on and goes: in good order, and never without a word."""

from __future__ import annotations

import csv
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from support.benches import CROWDED, EASE, LIVE
from support.desk import FakeShop, desk
from support.facts import live, poured

from mixer.app.bench.shop import Shop
from mixer.app.book.looking import export_csv
from mixer.app.clock import Clock
from mixer.app.picture import LiveCup
from mixer.app.request import Request
from mixer.desk import window
from mixer.desk.screen import has_screen
from mixer.desk.window import NoScreen, open_window
from mixer.record.journal import Journal
from mixer.record.views import live_cups

ASKED = Request("sample-36", "60 g", "sim:")


def test_it_opens_on_a_batch_and_closes_by_itself_when_that_is_over(
    screen: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(window, "LEAVE_MS", 500)  # time enough to be drawn
    shop, drawn = FakeShop(LIVE), []
    last = open_window(
        shop, ASKED, leave_when_over=True, on_first_drawn=lambda: drawn.append(len(shop.started))
    )
    assert last is LIVE
    assert drawn == [1]
    assert (shop.started, shop.stopped) == ([ASKED], "the batch is over")


@pytest.mark.parametrize("cups", [CROWDED.live_cups, LIVE.live_cups[1:], ()])
def test_a_window_that_goes_says_of_which_cups_nothing_warns_then(
    screen: str, cups: tuple[LiveCup, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(window, "LEAVE_MS", 60_000)
    with desk(screen, FakeShop(EASE), leave_when_over=True) as bench:
        bench.show(replace(LIVE, live_cups=cups))
        (said,) = [text for text in bench.texts() if text.startswith("All done here.")]
        names = [str(cup.cup) for cup in cups]
        assert ("nothing warns of cup" in said) == bool(cups)
        assert all(name in said for name in names)
        assert "…" not in said


def test_without_a_screen_nothing_is_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    shop = FakeShop()
    with pytest.raises(NoScreen, match="no screen"):
        open_window(shop, ASKED)
    assert (shop.started, shop.stopped) == ([], "")


def test_the_window_opened_to_find_the_screen_is_the_one_that_is_used(
    screen: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert has_screen()
    with desk(screen, FakeShop(EASE)) as bench:
        assert "ease" in bench.texts()
        monkeypatch.delenv("DISPLAY")
        assert not has_screen()  # nothing was left over of the first


def test_a_batch_that_was_asked_for_waits_for_no_fields_of_the_next(screen: str) -> None:
    with desk(screen, FakeShop(EASE), ASKED) as bench:
        assert "ease" in bench.texts()
        root = bench.window.root
        assert not any(child.winfo_class() == "Frame" for child in root.winfo_children())
        bench.show(LIVE)
        bench.press("space")
        bench.until(lambda: any(c.winfo_class() == "Frame" for c in root.winfo_children()))
        assert "Next batch" in bench.texts()


def test_its_cross_tells_the_shop_why(screen: str) -> None:
    shop = FakeShop(EASE)
    with desk(screen, shop) as bench:
        bench.close_button()
        bench.until_gone()
        assert shop.stopped == "window closed"


def test_an_error_in_the_window_is_a_sentence_and_the_window_goes_on(
    screen: str, capsys: pytest.CaptureFixture[str]
) -> None:
    class Broken(FakeShop):
        def key(self, word: str, text: str = "") -> None:
            super().key(word, text)
            raise OSError("made up for this test")

    shop = Broken(EASE)
    with desk(screen, shop) as bench:
        for _ in range(2):
            bench.press("Escape")
        bench.until(lambda: any("had trouble: OSError: made up" in t for t in bench.texts()))
        bench.show(LIVE)
        assert "go" in bench.texts()
    assert shop.words == ["hold", "hold"]
    told = capsys.readouterr().err
    assert len(told.strip().splitlines()) == 1  # the same trouble is told once
    assert "Traceback" not in told


def test_closing_the_window_in_a_pour_stands_in_the_record(screen: str, tmp_path: Path) -> None:
    record, table = tmp_path / "record", tmp_path / "batches.csv"
    shop = Shop(record, clock=Clock(6), give_up_s=None)
    shop.start_up()
    with desk(screen, shop, Request("sample-36", "60 g", "sim:", hands_free=True)) as bench:
        bench.until(lambda: (bench.window.scene.picture.net_ug or 0) > 5_000_000, 30)
        bench.close_button()
        bench.until_gone()
    assert len(export_csv(record, table).batches) == 1
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["outcome"] == "interrupted"
    assert "window closed" in row["note"]


def test_a_cup_that_is_closed_in_the_window_is_closed_in_the_record(
    screen: str, tmp_path: Path
) -> None:
    record = tmp_path / "record"
    with Journal.open(record) as journal:
        journal.append([*poured(1), live(1, cup=1), *poured(2), live(2, cup=2)])
    shop = Shop(record, give_up_s=None)
    shop.start_up()
    with desk(screen, shop) as bench:
        bench.until(lambda: len(bench.window.scene.picture.live_cups) == 2)
        bench.press("F2", "Tab", "Tab", "9", "g", "Return")
        bench.until(lambda: len(bench.window.scene.picture.live_cups) == 1)
        assert any("Cup 1" in said and "closed" in said for said in bench.texts())
    with Journal.open(record) as journal:
        entries = list(journal.entries())
    assert [cup.cup for cup in live_cups(entries)] == [2]
    (closed,) = [entry for entry in entries if entry.kind == "closed"]
    assert (closed.batch, closed.data) == (1, {"how": "left", "left_ug": 9_000_000})


def test_nothing_of_the_program_is_loaded_before_the_window() -> None:
    not_yet = {"pint", "pandas", "numpy", "scipy", "serial", "sqlite3", "mixer.app.bench.shop"}
    loaded = "import sys, mixer.cli, mixer.desk.late, mixer.desk.hands_on; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", loaded], capture_output=True, text=True, check=True
    )
    assert not not_yet & set(done.stdout.split())
