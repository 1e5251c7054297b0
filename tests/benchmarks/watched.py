"""The program with its window, and a look into it: the same shop, the same window.

Used where a figure needs what cannot be seen from outside: which reading the window
drew, how long its loop stood still, and a disk that takes its time. Words on standard
input: ``note`` puts a fact into the record, ``air`` says how warm the air is, ``clock``
answers with the first live cup's, ``export`` writes the CSV (and so loads pandas), ``log``
answers with one line of JSON and begins anew.

Must change nothing of what it watches, but for the slow commit that it is asked for.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import threading
import time
import tkinter as tk
from pathlib import Path
from typing import Any

from mixer.app.bench.shop import Shop
from mixer.app.picture import Picture
from mixer.app.request import Request
from mixer.desk.window import open_window
from mixer.record.journal import Journal

BEAT_MS = 2


class Watch:
    """Hands everything on to the shop, and notes which picture the window took when."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self.taken: list[tuple[int, str, str]] = []  # monotonic ns, the scale's figure, the stage
        self._last: Picture | None = None

    @property
    def shown(self) -> Picture:
        """The one that the window took last."""
        return self._last or Picture()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._shop, name)

    def picture(self) -> Picture:
        picture = self._shop.picture()
        if picture is not self._last:
            self._last = picture
            self.taken.append((time.monotonic_ns(), picture.scale.text, picture.stage))
        return picture


class Heart:
    """A beat within the window's own loop; its longest pause is the window's freeze."""

    def __init__(self) -> None:
        self.gaps_ms: list[float] = []
        self._last_ns = 0

    def start(self) -> None:
        self._beat(tk._get_default_root())  # type: ignore[attr-defined]

    def _beat(self, root: tk.Tk) -> None:
        now_ns = time.monotonic_ns()
        if self._last_ns:
            self.gaps_ms.append((now_ns - self._last_ns) / 1e6)
        self._last_ns = now_ns
        root.after(BEAT_MS, self._beat, root)


def slow_down(commit_s: float, commits: list[int]) -> None:
    """From now on a journal is opened as on a disk that takes ``commit_s`` for a commit."""
    open_journal = Journal.open

    def wait() -> None:
        commits.append(time.monotonic_ns())
        time.sleep(commit_s)

    def open_slow(path: Path | str, **options: Any) -> Journal:
        return open_journal(path, **options | {"before_commit": wait})

    Journal.open = open_slow  # type: ignore[method-assign,assignment]


def obey(watch: Watch, heart: Heart, commits: list[int], record: Path) -> None:
    """Do what standard input says, until it ends; then the program is over."""
    for line in sys.stdin:
        match line.strip():
            case said if said.startswith("air "):
                watch.key("air", said.removeprefix("air "))
            case "clock":
                cups = watch.shown.live_cups
                print(json.dumps({"low_s": cups[0].stands.low_s if cups else None}), flush=True)
            case "note":
                watch.key("note", "a line for the benchmark")
            case "export":
                from mixer.app.book.looking import export_csv

                export_csv(record, record.with_suffix(".csv"))
                print(json.dumps({"pandas": "pandas" in sys.modules}), flush=True)
            case "log":
                said = {"taken": watch.taken, "gaps_ms": heart.gaps_ms, "commits": commits}
                print(json.dumps(said), flush=True)
                watch.taken, heart.gaps_ms = [], []
                commits.clear()
    watch.stop("the benchmark has ended")
    os._exit(0)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("record", type=Path)
    parser.add_argument("port")
    parser.add_argument("--commit-s", type=float)
    parser.add_argument("--heart", action="store_true")
    args = parser.parse_args()
    commits: list[int] = []
    if args.commit_s:
        slow_down(args.commit_s, commits)
    watch, heart = Watch(Shop(args.record, give_up_s=None)), Heart()
    watch.start_up()
    threading.Thread(target=obey, args=(watch, heart, commits, args.record), daemon=True).start()
    request = Request("sample-36", "500g", args.port, hands_free=True)
    open_window(watch, request, on_first_drawn=heart.start if args.heart else None)


if __name__ == "__main__":
    main()
