"""The window while a commit takes 200 ms: its loop must turn on, its keys be answered.

A note is written into the record in mid-pour, again and again, on a journal whose
commits are made slow; during each, the key that opens or closes the field for a note
is pressed, and its drawing is seen at the X server.
"""

from __future__ import annotations

import time

from tests.benchmarks.eye import Eye
from tests.benchmarks.figures import Figure
from tests.benchmarks.poured import Poured
from tests.benchmarks.processes import Bench, ask, ended, say, wait_for

COMMIT_S = 0.2
LIMIT_MS = 50
INTO_THE_COMMIT_S = 0.03
A_PANEL = 5000  # pixels; a blinking cursor and the like are smaller


def measure(bench: Bench, commits: int) -> list[Figure]:
    scale, eye = Poured(20), Eye(bench.display)
    try:
        with ended(bench.watched(scale.path, "--heart", "--commit-s", str(COMMIT_S))) as program:
            wait_for(lambda: len(scale.said) > 40, program, "the pour")
            ask(program, "log")  # what was until now does not count
            answers_ms = [_key_in_a_commit(program, eye) for _ in range(commits)]
            busy = ask(program, "log")
    finally:
        eye.close()
        scale.close()
    assert len(busy["commits"]) >= commits, f"{len(busy['commits'])} commits of {commits}"
    note = f"{len(busy['commits'])} commits: {commits} of notes, the others of the weight trace"
    keys = f"median of {commits}: {sorted(answers_ms)[commits // 2]:.0f} ms"
    gap = max(busy["gaps_ms"])
    return [
        Figure("commits of 200 ms: longest pause of the window's loop", gap, LIMIT_MS, "ms", note),
        Figure("the same: longest wait for a key's answer", max(answers_ms), LIMIT_MS, "ms", keys),
    ]


def _key_in_a_commit(program, eye: Eye) -> float:
    """How long a key waits for its drawn answer, in ms."""
    say(program, "note")
    time.sleep(INTO_THE_COMMIT_S)
    eye.forget()
    pressed_ns = eye.press("F3")
    until_s, answered_ns = time.monotonic() + 2, 0
    while not answered_ns and time.monotonic() < until_s:
        answered_ns = next((ns for ns, size in eye.drawings(0.1) if size > A_PANEL), 0)
    if not answered_ns:
        raise TimeoutError("F3 was not answered by the window")
    time.sleep(2 * COMMIT_S)  # the next one begins from rest
    return (answered_ns - pressed_ns) / 1e6
