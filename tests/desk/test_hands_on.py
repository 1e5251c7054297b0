"""A visitor pours at the simulated bench: by keys in the window, by words in a terminal."""

from __future__ import annotations

import csv
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.desk import desk

from mixer.app.bench.shop import Shop
from mixer.app.bench.visitor import EASE_G_S, POUR_G_S, Visitor
from mixer.app.book.looking import export_csv
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.cli import main
from mixer.desk import hands_on
from mixer.desk import screen as desk_screen

SPEED = 4  # plant and program share the clock; the hand does not, and must be quicker


def jug(name: str, rate_g_s: float) -> dict[str, object]:
    return {"do": "pour", "jug": name, "rate_g_s": rate_g_s}


def test_keys_alone_pour_a_batch_through_that_says_it_is_simulated(
    screen: str, tmp_path: Path
) -> None:
    visitor, record = Visitor(), tmp_path / "record"
    shop = Shop(record, clock=Clock(SPEED), visitor=visitor)
    shop.start_up()
    request = Request("sample-36", "60g", "sim:", stir="2s", operator="AB")
    with desk(screen, shop, request, extra_keys=hands_on.keys(visitor)) as bench:
        held = ""
        pressed_next_s = 0.0
        bench.until(lambda: shop.picture().cue == "place")
        bench.press("Up")
        moved_s = time.monotonic()
        came: tuple[int | None, float] = (None, moved_s)  # the net, and since when it is that

        def follow() -> bool:
            nonlocal held, pressed_next_s, moved_s, came
            seen = shop.picture()
            wanted = {"pour": "Down", "ease": "Right", "trickle": "Right"}.get(seen.cue, "")
            if wanted != held or seen.net_ug != came[0]:
                came = (seen.net_ug, time.monotonic())
            elif held and time.monotonic() - came[1] > 2:
                wanted = ""  # nothing comes: pressed before the jug was called, by a hair
            if wanted != held:
                if held:
                    bench.up(held)
                if wanted:
                    bench.down(wanted)
                held = wanted
            if seen.cue == "next" and time.monotonic() - pressed_next_s > 1:
                pressed_next_s = time.monotonic()
                bench.press("space")
            if seen.cue in ("lift", "place") and time.monotonic() - moved_s > 2:
                moved_s = time.monotonic()  # a stall of the machine looks like a touch
                bench.press("Up")
            return seen.stage in ("live", "ended")

        try:
            bench.until(follow, 60)
        except AssertionError as error:
            seen = shop.picture()
            raise AssertionError(f"{error}: {seen.stage}, {seen.cue}: {seen.say}") from None
        bench.until(lambda: bench.window.scene.picture.stage == "live")
        last = bench.window.scene.picture
    shop.stop("the test is over")
    assert (last.stage, last.verdict, last.simulated) == ("live", "in-band", True)
    table = tmp_path / "batches.csv"
    assert len(export_csv(record, table).batches) == 1
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["bench"] == "simulated"
    assert row["verdict"] == "in-band"
    assert float(row["ratio_actual"]) == pytest.approx(36, rel=0.03)


def test_the_later_of_two_keys_counts_and_letting_go_of_both_shuts_the_jug() -> None:
    visitor = Visitor()
    visitor.see(Picture(stage="pour", component="resin"))
    keys = hands_on.keys(visitor)
    keys["Down"](True)
    visitor.see(Picture(stage="pour", component="hardener"))  # the open jug stays the same
    keys["Right"](True)
    keys["Right"](False)
    keys["Down"](False)
    keys["Down"](True)
    keys["Down"](False)
    visitor.leave()
    assert list(visitor.doings()) == [
        jug("resin", POUR_G_S),
        jug("resin", EASE_G_S),
        jug("resin", POUR_G_S),
        jug("resin", 0.0),
        jug("hardener", POUR_G_S),
        jug("hardener", 0.0),
    ]


def test_the_cup_is_put_lifted_and_put_back_and_a_new_bench_has_none() -> None:
    visitor = Visitor()
    cup = hands_on.keys(visitor)["Up"]
    for down in (True, False) * 3:
        cup(down)
    visitor.leave()
    assert [doing["do"] for doing in visitor.doings()] == ["cup", "lift", "return"]
    visitor.arrive(1.0)
    cup(True)
    visitor.leave()
    assert [doing["do"] for doing in visitor.doings()] == ["cup"]


def test_no_jug_is_opened_while_none_is_called() -> None:
    visitor = Visitor()
    hands_on.keys(visitor)["Down"](True)
    hands_on.keys(visitor)["Down"](False)
    visitor.leave()
    assert list(visitor.doings()) == []


def test_typed_words_pour_and_the_programs_own_go_on_to_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    visitor = Visitor()
    visitor.arrive(1000.0)  # so that "5s" is over in 5 ms
    visitor.see(Picture(stage="pour", component="resin"))
    heard = visitor.listen(["cup", "pour 5s", "", "note jug 2", "ease 2", "go", "drop"])
    assert list(heard) == ["note jug 2", "go", "drop", "drop"]  # the last: nobody is left to pour
    doings = visitor.doings()
    assert next(doings) == {"do": "cup", "mass_g": 12.0}
    assert [next(doings) for _ in range(4)] == [
        jug("resin", POUR_G_S), jug("resin", 0.0), jug("resin", EASE_G_S), jug("resin", 0.0),
    ]  # fmt: skip
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    "line", ["pour", "pour it", "pour -1s", "pour 0s", "pour 61s", "pour nan", "ease 1e9", "paint"]
)
def test_a_word_that_makes_no_sense_is_answered_and_nothing_is_poured(
    line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    visitor = Visitor()
    visitor.see(Picture(stage="pour", component="resin"))
    assert list(visitor.listen([line])) == ["drop"]
    visitor.leave()
    assert list(visitor.doings()) == []
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_a_cup_that_is_typed_before_the_scale_is_there_is_not_lost_in_silence(
    capsys: pytest.CaptureFixture[str],
) -> None:
    visitor = Visitor()
    assert list(visitor.listen(["cup"])) == ["drop"]
    visitor.leave()
    assert list(visitor.doings()) == []
    assert "type cup when it is asked for" in capsys.readouterr().err


def demo(*words: str, said: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "mixer", "demo", "--hands-on", *words],
        input=said, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_in_a_terminal_the_end_of_the_words_drops_the_batch(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    done = demo("--out", str(tmp_path), said="paint\n")
    assert done.returncode == 1, done.stderr
    assert "cup (on or off), pour 5s" in done.stdout
    assert "'paint' is no word here" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_faster_clock_is_refused(tmp_path: Path) -> None:
    done = demo("--fast", "--out", str(tmp_path))
    assert done.returncode == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_closing_the_demos_window_at_once_leaves_nothing_and_says_so(
    screen: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def closed_at_once(*_: object, **__: object) -> None:
        desk_screen.root().destroy()

    monkeypatch.setattr("mixer.desk.late.open_window_first", closed_at_once)
    assert main(["demo", "--hands-on", "--out", str(tmp_path / "demo")]) == 1
    assert capsys.readouterr().err == "Nothing was begun.\n"
    assert not (tmp_path / "demo").exists()


def test_a_python_without_tkinter_has_no_screen_and_says_nothing_of_it() -> None:
    told = (
        "import sys; sys.modules['tkinter'] = None; "
        "from mixer.desk.screen import has_screen; sys.exit(has_screen())"
    )
    assert subprocess.run([sys.executable, "-c", told], check=False).returncode == 0
