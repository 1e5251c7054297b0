"""``python -m devices.sim``: the simulated bench as a process of its own.

It prints one JSON line with the ``url`` that a host opens as its serial port, then
takes a hand's doings on standard input, one JSON object a line (:meth:`Plant.act`;
``{"do": "truth"}`` tells what is really in the cup), and answers each with a line.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys

from devices.sim.indicator import ScaleSettings
from devices.sim.plant import JUGS, Plant
from devices.sim.serve import open_line, serve
from devices.sim.stream import Jug


def main(arguments: list[str] | None = None) -> int:
    """Serve until standard input closes; 2 with a sentence where a setting is wrong."""
    wants = argparse.ArgumentParser(prog="python -m devices.sim", description=__doc__)
    wants.add_argument("--speed", type=float, default=1.0, help="bench seconds to a real one")
    wants.add_argument("--seed", type=int, default=1)
    wants.add_argument("--division", type=float, default=0.1, help="of the display, in grams")
    wants.add_argument("--readings-per-s", type=float, default=10.0)
    wants.add_argument("--repeatability", type=float, help="in grams; half a division if not given")
    wants.add_argument("--filter", type=float, default=0.15, help="each of two, in seconds")
    wants.add_argument("--capacity", type=float, default=2000.0, help="in grams")
    wants.add_argument("--zero-tracking", action="store_true")
    wants.add_argument("--jugs", help='JSON: [{"name": "resin", "drip_g": 0.6, ...}, ...]')
    wants.add_argument("--tcp", action="store_true", help="a TCP port, not a pseudo-terminal")
    given = wants.parse_args(arguments)
    try:
        plant = Plant(
            read_jugs(given.jugs) if given.jugs else JUGS,
            ScaleSettings(
                division_g=given.division,
                readings_per_s=given.readings_per_s,
                repeatability_g=given.repeatability,
                filter_s=given.filter,
                capacity_g=given.capacity,
                zero_tracking=given.zero_tracking,
            ),
            given.seed,
        )
        if not 0 < given.speed <= 1000:
            raise ValueError(f"speed is {given.speed}; it must be above 0 and at most 1000")
    except ValueError as why:
        print(f"The simulated bench cannot be set up so: {why}.", file=sys.stderr)
        return 2
    # Ctrl-C is for whoever began this process; it ends when its input closes.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    line = open_line(given.tcp)
    try:
        serve(plant, given.speed, line, sys.stdin)
    except BrokenPipeError:
        return 1  # nobody listens any more
    finally:
        line.close()
    return 0


def read_jugs(text: str) -> list[Jug]:
    """Jugs from JSON text.

    >>> read_jugs('[{"name": "resin"}]')[0].name
    'resin'
    """
    data = json.loads(text)
    if not isinstance(data, list):
        raise ValueError(f"jugs are a list of objects, but got {text}")
    return [Jug.read(jug) for jug in data]


if __name__ == "__main__":
    sys.exit(main())
