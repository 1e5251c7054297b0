"""What the commands that only reckon do: they mix nothing and record nothing.

The words are read in :mod:`mixer.cli`. Nothing heavy may be imported at the top of this
file: the window is waited for.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from mixer.app.spoken import tell, visible

if TYPE_CHECKING:
    from argparse import Namespace


def ratio(args: Namespace) -> int:
    from mixer.app.sizing.ratio import Asked, answer, lines

    asked = Asked(args.resin, args.eew, args.ahew, args.density_resin, args.density_hardener)
    found = answer(asked)
    print(json.dumps(found) if args.json else visible_lines(lines(found)))
    return 0


def life(args: Namespace) -> int:
    from mixer.app.life.life import Asked, lines, of_case, read

    case = read(Asked(**{name: getattr(args, name) for name in Asked.__slots__}))
    if args.plot is not None:
        from mixer.app.life.life_picture import draw, may_draw

        path = may_draw(args.plot)
    found = of_case(case)
    print(json.dumps(found) if args.json else visible_lines(lines(found)))
    if args.plot is None:
        return 0
    if found["peak_c"] is None:
        tell(f"plot: nothing was drawn at {path}, as there is no figure to draw.")
        return 1
    draw(case, found, path)
    return 0


def visible_lines(lines: list[str]) -> str:
    """Each on its own line, and nothing in them that a terminal obeys."""
    return "\n".join(visible(line) for line in lines)
