"""Many simulated pours, and how many are what they are called.

``python -m tests.benchmarks.pours [SEEDS]`` (16 unless given) in the checkout. For each
seed: careful and careless hand, warm and cold resin, hands free and with keys, 40, 60
and 120 g, at 100 : 36 within 3 % on a scale of 0.1 g, in virtual time, 240 s at most.
Ends with 1 where a batch that was called in band is truly outside.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from support.pouring import TWO, Guide, run, terms
from support.virtual import VirtualBench

from mixer.practice.hands import CAREFUL, CARELESS

HANDS = {"careful": CAREFUL, "careless": CARELESS}
SIZES_G = (40, 60, 120)
LIMIT_S = 240


@dataclass(frozen=True, slots=True)
class Poured:
    """One pour: what it was, what it was called, what it really was, how it went."""

    hand: str
    warm: bool
    keys: bool
    size_g: int
    seed: int
    called: str
    deviation: float
    seconds: float
    additions: int

    @property
    def false(self) -> bool:
        """Called in band, and truly outside."""
        return self.called == "in-band" and abs(self.deviation) > TWO.ratio_tolerance


def pours(seeds: int) -> Iterator[Poured]:
    """All kinds of pours, each with this many seeds."""
    for hand, warm, keys, size_g, seed in product(
        HANDS, (True, False), (False, True), SIZES_G, range(seeds)
    ):
        bench = VirtualBench(HANDS[hand], warm=warm, seed=seed, keys=keys)
        guide = run(bench, Guide(terms(size_g, hands_free=not keys)), LIMIT_S)
        result = guide.pour.result
        resin, hardener = bench.in_cup_g("resin"), bench.in_cup_g("hardener")
        yield Poured(
            hand, warm, keys, size_g, seed,
            result.verdict if result else "not ended",
            hardener / resin / TWO.ratio - 1,
            bench.t_s,
            sum(bool(getattr(fact, "addition", False)) for fact in guide.facts),
        )  # fmt: skip


def main() -> int:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 16
    done = list(pours(seeds))
    print(f"{'hand':9} {'resin':5} {'size':>5}  called{'':28} median s  most additions")
    for hand, warm, size_g in product(HANDS, (True, False), SIZES_G):
        some = [p for p in done if (p.hand, p.warm, p.size_g) == (hand, warm, size_g)]
        said = ", ".join(f"{n} {name}" for name, n in Counter(p.called for p in some).most_common())
        middle = sorted(p.seconds for p in some)[len(some) // 2]
        most = max(p.additions for p in some)
        resin = "warm" if warm else "cold"
        print(f"{hand:9} {resin:5} {size_g:>3} g  {said:34} {middle:8.0f}  {most:14}")
    false = [p for p in done if p.false]
    called = sum(p.called == "in-band" for p in done)
    print(f"{len(done)} pours, {called} called in band, {len(false)} of these truly outside.")
    for p in false:
        print(f"  {p}")
    return 1 if false else 0


if __name__ == "__main__":
    raise SystemExit(main())
