"""The text console and the JSON lines: two faces of the one picture."""

from __future__ import annotations

import json
import signal
import sys
import threading
from collections.abc import Iterable
from typing import Any, Protocol, TextIO

from mixer.app.picture import Picture

WORDS = ("go", "hold", "drop", "note")


class Bench(Protocol):
    """What a console needs of the program."""

    def picture(self) -> Picture: ...
    def wait(self, serial: int, timeout_s: float) -> Picture: ...
    def key(self, word: str, text: str = "") -> None: ...
    def stop(self, why: str) -> None: ...
    def exit_status(self) -> int | None: ...


def run_jsonl(shop: Bench, out: TextIO, words: Iterable[str]) -> int:
    """One JSON object a line on every change; the exit status."""
    last: Picture | None = None

    def show(picture: Picture, over: bool) -> None:
        nonlocal last
        if picture is not last or over:
            print(json.dumps(as_plain(picture, over=over)), file=out, flush=True)
        last = picture

    return _run(shop, words, show)


def run_text(shop: Bench, out: TextIO, words: Iterable[str]) -> int:
    """One line for a person whenever what it says changes; the exit status."""
    said = ""

    def show(picture: Picture, over: bool) -> None:
        nonlocal said
        line = as_text(picture, over=over)
        if line != said:
            print(line, file=out, flush=True)
        said = line

    return _run(shop, words, show)


def as_plain(picture: Picture, *, over: bool) -> dict[str, Any]:
    """One line of the JSON face. Masses in grams, time in seconds."""
    line: dict[str, Any] = {
        "v": 1,
        "t": round(picture.t_s, 3),
        "stage": "cup" if picture.stage == "ready" and not over else picture.stage,
        "held": picture.held,
        "component": picture.component,
        "net_g": _g(picture.net_ug),
        "total_g": _g(picture.total_ug),
        "target_g": _g(picture.target_ug),
        "low_g": _g(picture.low_ug),
        "high_g": _g(picture.high_ug),
        "cue": picture.cue,
        "say": picture.say,
    }
    if over:
        if picture.stage == "ready":
            line["stage"] = "ended"
        line |= {
            "batch": picture.batch,
            "cup": picture.cup,
            "ratio_target": picture.ratio_target,
            "ratio_actual": picture.ratio_actual,
            "verdict": picture.verdict,
        }
    return line


def as_text(picture: Picture, *, over: bool) -> str:
    """One line of the text face."""
    if over and picture.verdict is not None:
        actual = "-" if picture.ratio_actual is None else f"{picture.ratio_actual:.2f}"
        cup = f"cup {picture.cup}, " if picture.cup is not None else ""
        return (
            f"batch {picture.batch}: {cup}{picture.verdict}, ratio 100 : {actual} "
            f"(target 100 : {picture.ratio_target:g})"
        )
    held = f"HELD ({picture.held}) " if picture.held else ""
    return f"{held}[{picture.cue}] {picture.say}"


def _g(mass_ug: int | None) -> float | None:
    return None if mass_ug is None else round(mass_ug / 1_000_000, 6)


def _run(shop: Bench, words: Iterable[str], show: Any) -> int:
    threading.Thread(target=_listen, args=(shop, words), daemon=True).start()
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    picture = shop.picture()
    try:
        while (status := shop.exit_status()) is None:
            show(picture, False)
            picture = shop.wait(picture.serial, 0.2)
    except KeyboardInterrupt:
        shop.stop("interrupted")
        ended = shop.exit_status()
        status = 1 if ended is None else ended
    show(shop.picture(), True)
    return status


def _listen(shop: Bench, words: Iterable[str]) -> None:
    for line in words:
        word, _, text = line.strip().partition(" ")
        if word in WORDS:
            shop.key(word, text)
        elif word:
            print(f"{word[:20]!r} is no word here: go, hold, drop, note TEXT.", file=sys.stderr)
