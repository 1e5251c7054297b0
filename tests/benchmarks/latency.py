"""From the last byte of a reading to the changed window.

The scale sends a new weight 20 times a second over a pseudo-terminal; each weight is
another, so that each must change the window. The window's process notes when it took
which reading for drawing; what it then drew is seen at the X server. A reading counts
as shown with the *last* drawing before the window takes the next picture: all panels,
not only the first. A reading that was overtaken counts until a later one is shown.
"""

from __future__ import annotations

from bisect import bisect_right

from tests.benchmarks.eye import Watcher
from tests.benchmarks.figures import Figure, percentile
from tests.benchmarks.poured import Poured
from tests.benchmarks.processes import Bench, ask, ended, wait_for

LIMIT_MS = 33
RATE_HZ = 20


def measure(bench: Bench, pour_s: float) -> list[Figure]:
    scale, watcher = Poured(RATE_HZ), Watcher(bench.display)
    try:
        with ended(bench.watched(scale.path)) as program:
            wait_for(
                lambda: len(scale.said) >= pour_s * RATE_HZ, program, "the pour", pour_s * 2 + 30
            )
            scale.resting = True
            wait_for(lambda: scale.asked_ns[-1] - scale.said[-1][0] > 1e9, program, "the rest")
            taken = ask(program, "log")["taken"]
    finally:
        watcher.close()
        scale.close()
    # The jug is opened with the first of these; what the window was busy with before is
    # another figure.
    said = scale.said[RATE_HZ:]
    assert all(stage == "pour" for ns, _, stage in taken if said[0][0] < ns < said[-1][0]), taken
    waits_ms, overtaken = waits(said, taken, [ns for ns, _ in watcher.drawn])
    seconds = (said[-1][0] - said[0][0]) / 1e9
    note = (
        f"{len(waits_ms)} readings at {(len(said) - 1) / seconds:.1f}/s; median "
        f"{percentile(waits_ms, 50):.1f}, longest {max(waits_ms):.0f} ms; {overtaken} overtaken"
    )
    what = "last byte of a reading to the changed window, 99th percentile"
    return [Figure(what, percentile(waits_ms, 99), LIMIT_MS, "ms", note)]


def waits(
    said: list[tuple[int, str]], taken: list[tuple[int, str, str]], drawn: list[int]
) -> tuple[list[float], int]:
    """How long each reading took to be shown, in ms, and how many were overtaken.

    ``said``: (ns, figure), every figure once. ``taken``: (ns, figure, stage), each
    picture that the window took. ``drawn``: ns of each drawing. A reading that was
    never shown is an error, not a long wait.

    >>> waits([(0, "1"), (50, "2")], [(5, "1", ""), (70, "2", "")], [8, 9, 75])
    ([9e-06, 2.5e-05], 0)
    """
    order = {figure: i for i, (_, figure) in enumerate(said)}
    shown: dict[int, int] = {}  # number of the reading -> when it was all drawn
    for i, (ns, figure, _) in enumerate(taken):
        if figure not in order or order[figure] in shown:
            continue
        until = taken[i + 1][0] if i + 1 < len(taken) else ns + 10**9
        last = bisect_right(drawn, until) - 1
        if last >= 0 and drawn[last] > ns:
            shown[order[figure]] = drawn[last]
    waits_ms, overtaken, at_ns = [], 0, None
    for number in reversed(range(len(said))):
        if number not in shown:
            overtaken += 1
        at_ns = shown.get(number, at_ns)
        if at_ns is None:
            raise ValueError(f"the last reading, {said[number][1]}, was never drawn")
        waits_ms.append((at_ns - said[number][0]) / 1e6)
    return waits_ms[::-1], overtaken
