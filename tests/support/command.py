"""The real command over a real pseudo-terminal, with its output watched as it comes.

``mixer.cli.main`` runs in the test's own process and thread; a *director* in another
thread reads the lines, works the scale and types words. The command's clock is the
test's: four times as fast as real time, and it can be moved on by as much as a test
needs, so that a minute's wait is data.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from mixer.app.clock import Clock
from mixer.app.files.folders import find
from mixer.cli import main
from support.peers import PtyPeer, weigh

SPEED = 4.0
WITHIN_S = 60.0  # real seconds after which nothing more is expected, on a busy machine too

Line = dict[str, Any]


class TestClock(Clock):
    """``SPEED`` times as fast as real time; ``skip`` moves it on at once."""

    __test__ = False

    def __init__(self) -> None:
        self._skipped_s = 0.0
        super().__init__(SPEED)

    def age_s(self) -> float:
        return super().age_s() + self._skipped_s

    def skip(self, seconds: float) -> None:
        self._skipped_s += seconds


class Counter:
    """A counter scale that shows what the test says, on a path that outlives its plug.

    ``mood`` is ``well``, or what is wrong: ``silent``, ``nonsense``, ``overload``,
    ``pounds`` (its unit was changed). ``tells`` is its CAP line, if it has one;
    ``every_s`` how long it takes to answer, in bench seconds.
    """

    def __init__(self, path: Path, tells: str = "") -> None:
        self.path = path
        self.grams, self.mood, self.decimals, self.tells = 0.0, "well", 1, tells
        self.every_s = 0.0
        self._lines: list[bytes] = []
        self._peer: PtyPeer | None = None
        self.plug_in()

    def plug_in(self) -> None:
        self._peer = PtyPeer(self._answer)
        new = self.path.with_name("new-plug")
        new.symlink_to(self._peer.path)
        new.replace(self.path)

    def unplug(self) -> None:
        """Its path goes with it: the next pseudo-terminal, whoever's, may have its number."""
        peer, self._peer = self._peer, None
        if peer is not None:
            self.path.unlink(missing_ok=True)
            peer.unplug()

    def pour(self, to_g: float, rate_g_s: float = 15.0) -> None:
        """A stream until the scale shows ``to_g``; bench seconds."""
        while self.grams < to_g:
            time.sleep(0.05 / SPEED)
            self.grams = min(to_g, self.grams + rate_g_s * 0.05)

    def _answer(self, command: bytes) -> bytes:
        if self.every_s:
            time.sleep(self.every_s / SPEED)
        if self.mood == "silent":
            return b""
        if command == b"\nI\r" and self.tells:
            self._lines = [f"\n{self.tells}\r".encode(), b"\nEND:\r"]
            return b"\nSMA:2/1.0\r"
        if command == b"\nN\r" and self._lines:
            return self._lines.pop(0)
        if command != b"\nW\r":
            return b"\n?\r"
        if self.mood == "nonsense":
            return b"\n~#1 5%garbage\r"
        if self.mood == "overload":
            return b"\nO1G            g  \r"
        if self.mood == "pounds":
            return weigh(f"{self.grams / 453.59237:.4f}", "lb")
        return weigh(f"{self.grams:.{self.decimals}f}")


class Screen(io.TextIOBase):
    """Standard output of the command; who reads it is woken at each line."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._part = ""
        self._more = threading.Condition()

    def write(self, text: str) -> int:
        with self._more:
            *whole, self._part = (self._part + text).split("\n")
            self.lines += whole
            self._more.notify_all()
        return len(text)

    def wait_for(self, true: Callable[[str], bool], since: int) -> int:
        """The place of the first line from ``since`` on for which this holds."""
        until = time.monotonic() + WITHIN_S
        with self._more:
            while True:
                for place in range(since, len(self.lines)):
                    if true(self.lines[place]):
                        return place
                since = len(self.lines)
                if not self._more.wait(until - time.monotonic()):
                    raise AssertionError(f"not seen; the last line: {self.lines[-1:]}")


class Mix:
    """One run of ``cupside mix --jsonl`` at a counter scale."""

    def __init__(self, tmp: Path, counter: Counter, clock: TestClock) -> None:
        self.tmp, self.counter, self.clock = tmp, counter, clock
        self.record = tmp / "record.cupside"
        self.screen = Screen()
        self.status: int | None = None
        self.err = ""
        self._at = 0
        self._typed: int | None = None

    @property
    def lines(self) -> list[Line]:
        return [json.loads(line) for line in self.screen.lines]

    @property
    def last(self) -> Line:
        return json.loads(self.screen.lines[-1])  # type: ignore[no-any-return]

    def see(self, true: Callable[[Line], bool]) -> Line:
        """The next line for which this holds; the ones before are not looked at again."""
        self._at = self.screen.wait_for(lambda text: true(json.loads(text)), self._at)
        return json.loads(self.screen.lines[self._at])  # type: ignore[no-any-return]

    def say(self, text: str | bytes) -> None:
        """A line on the command's standard input."""
        assert self._typed is not None
        os.write(self._typed, (text.encode() if isinstance(text, str) else text) + b"\n")

    def let_pass(self, seconds: float) -> None:
        """So many bench seconds at once, in steps of which none is taken for a sleep."""
        until = self.clock.age_s() + seconds
        while (left_s := until - self.clock.age_s()) > 0:
            self.clock.skip(min(10.0, left_s))
            since = self.clock.age_s()
            self.see(lambda line, since=since: line["t"] >= since or line["stage"] == "ended")

    def end_of_input(self) -> None:
        typed, self._typed = self._typed, None
        assert typed is not None
        os.close(typed)

    def place_cup(self, grams: float = 12.0) -> None:
        """The cup, and its tare taken."""
        self.see(lambda line: line["cue"] == "place")
        self.counter.grams = grams
        self.see(lambda line: line["stage"] == "pour")

    def pour_20_g(self) -> None:
        """Of 36.8 g of resin, at rest; into a cup of 30 g, which no short stream outweighs."""
        self.place_cup(30.0)
        self.counter.pour(to_g=50)
        self.settle(20)

    def pour_the_resin(self) -> None:
        """36.8 g, into a cup of 12 g, and on to the hardener."""
        self.place_cup()
        self.counter.pour(to_g=48.8)
        self.see(lambda line: line["cue"] == "next")
        self.say("go")
        self.see(lambda line: line["component"] == "hardener")

    def pour_in_band(self) -> None:
        """Resin and hardener, up to the stir."""
        self.pour_the_resin()
        self.counter.pour(to_g=62)
        self.see(lambda line: line["cue"] == "next")
        self.say("go")
        self.see(lambda line: line["stage"] == "stir")

    def settle(self, net_g: float) -> None:
        """Wait until this is shown, and has been at rest for a while."""
        self.see(lambda line: line["net_g"] == net_g)
        since = self.clock.age_s()
        self.see(lambda line: line["t"] > since + 1.5)

    def run(
        self,
        director: Callable[[Mix], None] = lambda mix: None,
        *more: str,
        size: str = "50g",
        face: str = "--jsonl",
        resin: str = "",
        out: IO[str] | None = None,
    ) -> int:
        """The command from start to end; the exit status. A director's failure is raised.

        ``out`` is its standard output in the place of ``screen``.
        """
        reading, self._typed = os.pipe()
        failed: list[BaseException] = []

        def direct() -> None:
            try:
                director(self)
            except BaseException as error:
                failed.append(error)
                if self._typed is not None:  # the command is still on: end it
                    os.kill(os.getpid(), signal.SIGTERM)

        hand = threading.Thread(target=direct, daemon=True)
        err, words = io.StringIO(), os.fdopen(reading, encoding="utf-8")
        argv = [
            "mix",
            "--resin",
            resin or str(self.tmp / "quick.toml"),
            f"--size={size}",
            "--port",
            str(self.counter.path),
        ]
        argv += [*([face] if face else []), "--record", str(self.record), *more]
        hand.start()
        before = sys.stdout, sys.stderr, sys.stdin
        try:
            sys.stdout, sys.stderr, sys.stdin = out or self.screen, err, words  # type: ignore[assignment]
            try:
                self.status = main(argv)
            except SystemExit as left:
                self.status = int(str(left.code))
        finally:
            sys.stdout, sys.stderr, sys.stdin = before
            typed, self._typed = self._typed, None
            hand.join(WITHIN_S)
            if typed is not None:
                os.close(typed)
        self.err = err.getvalue()
        if failed:
            raise failed[0]
        assert "Traceback" not in self.err, self.err
        return self.status

    def row(self) -> dict[str, str]:
        """The one batch of the record, as the real export writes it."""
        (row,) = self.rows()
        return row

    def rows(self) -> list[dict[str, str]]:
        """All batches of the record; none where there is no record."""
        import csv

        if not self.record.exists():
            return []
        table = self.tmp / "batches.csv"
        with contextlib.redirect_stdout(io.StringIO()):
            assert main(["record", "export", "--to", str(table), "--record", str(self.record)]) == 0
        with table.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


def without_privileges() -> list[str]:
    """What to put before a command so that it keeps to the modes of files, also as root."""
    if os.geteuid() != 0:
        return []
    if shutil.which("setpriv") is None:
        pytest.skip("RIGHTS NOT TESTED: as root, without setpriv, every file may be opened")
    return ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]


def one_sentence(text: str) -> bool:
    """Whether a person is told once, on one line."""
    return len(text.strip().splitlines()) == 1 and text.strip()[-1] in ".?"


@contextlib.contextmanager
def bench(tmp: Path, monkeypatch: pytest.MonkeyPatch, tells: str = "") -> Iterator[Mix]:
    """A counter scale, a clock, and a confirmed resin that has no long drips to wait out."""
    clock, quick = TestClock(), tmp / "quick.toml"
    profile = find("resins", "sample-36").read_text(encoding="utf-8")
    quick.write_text(profile.replace('drip_time = "8 s"', 'drip_time = "1 s"'), encoding="utf-8")
    monkeypatch.setattr("mixer.app.bench.shop.Clock", lambda: clock)
    with contextlib.redirect_stdout(io.StringIO()):
        for resin in ("sample-36", str(quick)):
            words = ["resin", "confirm", resin, "--ratio", "100:36", "--by", "weight"]
            assert main(words) == 0
    counter = Counter(tmp / "scale", tells)
    try:
        yield Mix(tmp, counter, clock)
    finally:
        counter.unplug()
