"""The two line faces against a bench whose pictures are given as data."""

from __future__ import annotations

import io
import json
import signal
from collections.abc import Iterator
from dataclasses import replace

import pytest
from support.benches import FIRST

from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.app.words import MAY_SLEEP
from mixer.cli import main
from mixer.console import _listen, as_plain, run_jsonl, run_text


class FakeBench:
    """Shows its pictures one after another, then ends; may be interrupted at the end."""

    def __init__(self, pictures: list[Picture], status: int, *, interrupt: bool = False) -> None:
        self._left, self._status, self._interrupt = pictures, status, interrupt
        self.keys: list[tuple[str, str]] = []
        self.stopped: list[str] = []

    def picture(self) -> Picture:
        return self._left[0]

    def wait(self, serial: int, timeout_s: float) -> Picture:
        if len(self._left) > 1:
            del self._left[0]
        elif self._interrupt:
            raise KeyboardInterrupt
        return self._left[0]

    def start(self, request: Request) -> None: ...

    def key(self, word: str, text: str = "") -> None:
        self.keys.append((word, text))

    def stop(self, why: str, *, to_go_on: bool = False) -> None:
        self.stopped.append(why)

    def exit_status(self) -> int | None:
        return None if self._interrupt or len(self._left) > 1 else self._status


@pytest.fixture(autouse=True)
def _signals_as_before() -> Iterator[None]:
    before = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, before)


def _pictures() -> list[Picture]:
    return [
        Picture(serial=1, stage="cup", say="Place the cup."),
        Picture(serial=2, stage="pour", component="resin", net_ug=1_234_567, say="Pour."),
        Picture(
            serial=3, stage="live", say="Live.", batch=4, cup=2,
            ratio_target=36.0, ratio_actual=36.1, verdict="in-band",
        ),
    ]  # fmt: skip


def test_one_json_object_for_each_picture_and_the_result_in_the_last_only() -> None:
    out = io.StringIO()
    assert run_jsonl(FakeBench(_pictures(), 0), out, ()) == 0
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    assert [line["stage"] for line in lines] == ["cup", "pour", "live"]
    assert list(lines[0]) == [
        "v", "t", "stage", "held", "component", "net_g", "total_g", "target_g",
        "low_g", "high_g", "cue", "say",
    ]  # fmt: skip
    assert "verdict" not in lines[1]
    result = ("batch", "cup", "ratio_target", "ratio_actual", "verdict")
    assert [lines[2][key] for key in result] == [4, 2, 36.0, 36.1, "in-band"]


@pytest.mark.parametrize(("ug", "grams"), [(1, 1e-6), (1_234_567, 1.234567), (None, None)])
def test_grams_are_the_micrograms_exactly(ug: int | None, grams: float | None) -> None:
    assert as_plain(Picture(net_ug=ug), over=False)["net_g"] == grams


def test_text_says_a_sentence_once_and_ends_with_the_verdict() -> None:
    pictures = _pictures()
    pictures.insert(1, Picture(serial=2, stage="cup", say="Place the cup."))
    out = io.StringIO()
    assert run_text(FakeBench(pictures, 1), out, ()) == 1
    lines = out.getvalue().splitlines()
    assert len(lines) == 3
    assert "in-band" in lines[-1]


def test_a_batch_that_is_over_says_of_which_cups_nothing_warns_any_more(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    second = replace(FIRST, cup=2)
    for cups, name in (((FIRST,), "cup 1"), ((second, FIRST), "cups 1 and 2"), ((), None)):
        shop = FakeBench([*_pictures()[:2], replace(_pictures()[2], live_cups=cups)], 0)
        monkeypatch.setattr("mixer.commands.bench._shop", lambda *a, shop=shop, **k: lambda: shop)
        words = ["mix", "--resin", "sample-36", "--size", "60g", "--port", "sim:"]
        assert main([*words, "--text"]) == 0
        told = capsys.readouterr().out.splitlines()[-1]
        assert ("nothing warns" in told) == (name is not None)
        assert name is None or told.startswith(f"From now on nothing warns of {name}: ")


def test_text_shows_mere_figures_once_a_second() -> None:
    counting = [
        Picture(serial=n, t_s=n / 10, stage="pour", cue="pour", say=f"Pour: {50 - n / 10} g to go.")
        for n in range(1, 26)
    ]
    refusal = Picture(serial=26, t_s=2.55, stage="pour", cue="pour", say="Not in band.")
    out = io.StringIO()
    run_text(FakeBench([*counting, refusal, _pictures()[-1]], 0), out, ())
    told = [line.partition(" to go")[0] for line in out.getvalue().splitlines()]
    assert told[:4] == [
        "[pour] Pour: 49.9 g", "[pour] Pour: 48.9 g", "[pour] Pour: 47.9 g", "[pour] Not in band.",
    ]  # fmt: skip


def test_text_does_not_repeat_a_last_digit_that_flickers() -> None:
    flickering = [
        Picture(serial=n, t_s=n * 1.5, stage="pour", cue="drip", say=f"{12.3 + n % 2 / 10} g more.")
        for n in range(20)
    ]
    out = io.StringIO()
    run_text(FakeBench([*flickering, _pictures()[-1]], 0), out, ())
    assert len(out.getvalue().splitlines()) == 3


def test_an_interruption_stops_the_bench_and_is_status_1() -> None:
    bench = FakeBench(_pictures(), 0, interrupt=True)
    assert run_jsonl(bench, io.StringIO(), ()) == 1
    assert bench.stopped == ["interrupted"]


def test_words_reach_the_bench_and_others_get_a_sentence(
    capsys: pytest.CaptureFixture[str],
) -> None:
    bench = FakeBench(_pictures(), 0)
    _listen(
        bench, ["go\n", "\n", "note too warm\n", "jump\n", "jug R 17\n", "was resin\n", "hold\n"]
    )
    said_so = [("jug", "R 17"), ("was", "resin"), ("hold", "")]
    assert bench.keys == [("go", ""), ("note", "too warm"), *said_so]
    said = capsys.readouterr().err
    assert "'jump'" in said
    assert said.count("\n") == 1
    _listen(bench, ["drop it\n", "hold on\n"])  # no drop, as it may have been meant otherwise
    assert bench.keys[-1] == ("hold", "")
    assert len(bench.keys) == 5
    assert "'drop it' is no word here: drop stands alone on its line." in capsys.readouterr().err
    _listen(bench, ["cpsdcnlsbldhpdpbt\n"])  # a tag, from a scanner that types into the terminal
    assert bench.keys[-1] == ("jug", "cpsdcnlsbldhpdpbt")


def test_that_the_computer_may_fall_asleep_is_said_once_and_not_again_of_the_batch() -> None:
    first, *others = [replace(one, may_sleep=True) for one in _pictures()]
    pictures = [first, *(replace(one, batch=1) for one in others)]
    out = io.StringIO()
    run_text(FakeBench(pictures, 0), out, ())
    assert out.getvalue().splitlines().count(MAY_SLEEP) == 1


def test_both_faces_tell_what_cures_and_the_text_once() -> None:
    rib = "rib 3: peel ply off not before Thu 2 May 14:20, if it stays at 22 degC"
    pictures = [replace(picture, curing=(rib,)) for picture in _pictures()]
    out = io.StringIO()
    run_text(FakeBench(list(pictures), 0), out, ())
    assert out.getvalue().splitlines().count(rib) == 1
    out = io.StringIO()
    run_text(FakeBench(pictures[1:], 0), out, ())  # it waits until nothing streams
    assert [line[:5] for line in out.getvalue().splitlines()] == ["[plac", "rib 3", "batch"]
    out = io.StringIO()
    run_jsonl(FakeBench(list(pictures), 0), out, ())
    assert [json.loads(line)["curing"] for line in out.getvalue().splitlines()] == [[rib]] * 3
