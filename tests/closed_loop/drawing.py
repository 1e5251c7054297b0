"""The table as a picture: for each division and size, how far each hand's ratio was off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from support.pouring import TWO

from closed_loop.poured import Poured
from closed_loop.settings import DIVISIONS_G, SIZES_G

WIDTH, HEIGHT = 150, 190  # of one panel, in pixels
MOST = 0.12  # what is further off stands at the edge
INK, BAND, CUES, DISPLAY, AMISS = "#1d2b36", "#dfe9e2", "#1f6f50", "#8a94a0", "#b3261e"


def draw(done: Sequence[Poured]) -> str:
    """An SVG: a row for each division, a column for each size; in each the true deviation
    of every pour, by the cues on the left and by the display on the right."""
    width, height = 70 + WIDTH * len(SIZES_G), 60 + HEIGHT * len(DIVISIONS_G)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'font-family="sans-serif" font-size="11" fill="{INK}">',
        '<rect width="100%" height="100%" fill="white"/>',
        f'<text x="70" y="18">True ratio against its target: by the cues (green) and by the '
        f"display (grey); red: called in band, and is not. 100 : 36 within "
        f"{TWO.ratio_tolerance:.0%}."
        "</text>",
    ]
    for (row, division_g), (column, size_g) in product(enumerate(DIVISIONS_G), enumerate(SIZES_G)):
        some = [
            p
            for p in done
            if (p.setting.division_g, p.setting.size_g) == (division_g, size_g)
            and p.setting.recipe == TWO
        ]
        left, top = 60 + WIDTH * column, 40 + HEIGHT * row
        parts += _panel(some, left, top)
        parts.append(f'<text x="{left + 8}" y="{top + 14}">{size_g} g on {division_g} g</text>')
    return "\n".join([*parts, "</svg>\n"])


def _panel(some: Sequence[Poured], left: float, top: float) -> Iterator[str]:
    def y(deviation: float) -> float:
        inside = max(-MOST, min(MOST, deviation))
        return top + HEIGHT / 2 + 8 - inside / MOST * (HEIGHT / 2 - 24)

    band = y(TWO.ratio_tolerance), y(-TWO.ratio_tolerance)
    yield (
        f'<rect x="{left}" y="{band[0]:.1f}" width="{WIDTH - 10}" '
        f'height="{band[1] - band[0]:.1f}" fill="{BAND}"/>'
    )
    for guided, middle in ((True, 0.27), (False, 0.73)):
        pours = [p for p in some if p.guided is guided]
        for i, p in enumerate(pours):
            x = left + (WIDTH - 10) * (middle + 0.36 * ((i * 0.618) % 1 - 0.5))
            ink = AMISS if p.false else CUES if guided else DISPLAY
            yield f'<circle cx="{x:.1f}" cy="{y(p.deviation):.1f}" r="1.8" fill="{ink}"/>'
