"""The cup in section, filling toward its band.

The drawing is stretched where it matters: the band always takes the same share of
the cup, however narrow it is, so that being in it or over it can be seen from
afar. Over the band is a jagged dark surface and a word, not only a colour.
"""

from __future__ import annotations

import math

from mixer.app.picture import Picture
from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import figure, grams

BASE = 0.16  # height of what was in the cup before this component
LOW, HIGH, BRIM = 0.60, 0.80, 0.97


def heights(p: Picture) -> tuple[float, float, float | None, float | None, float | None]:
    """Base, surface, low, target and high as shares of the cup's height, each 0 to 1.

    Linear from nothing to the low limit, linear through the band, and beyond it
    ever slower toward the brim, so that any excess can still be drawn.

    >>> limits = {"low_ug": 15_200_000, "target_ug": 15_500_000, "high_ug": 15_900_000}
    >>> heights(Picture(stage="pour", net_ug=7_600_000, total_ug=7_600_000, **limits))[:3]
    (0.0, 0.3, 0.6)
    """
    earlier = max(0, (p.total_ug or 0) - max(0, p.net_ug or 0))
    base = BASE if earlier > 0 else 0.0
    if p.target_ug is None:
        surface = base if p.net_ug is None or p.net_ug <= 0 else (base + 0.5 * (BRIM - base))
        if p.net_ug is None and earlier > 0:
            surface = base = LOW  # stirred together: one content
        return base, surface, None, None, None
    banded = has_band(p)
    low = min(p.low_ug, p.target_ug) if banded and p.low_ug is not None else p.target_ug
    high = max(p.high_ug, p.target_ug) if banded and p.high_ug is not None else p.target_ug
    low_at, high_at = (LOW, HIGH) if high > low else (HIGH - 0.1, HIGH - 0.1)

    def height(mass: int) -> float:
        if mass <= 0:
            return base
        if mass <= low:
            return base + (low_at - base) * mass / low
        if mass <= high:
            return low_at + (high_at - low_at) * (mass - low) / (high - low)
        stretch = max((high - low) / 2, abs(high) / 10, 1)
        return BRIM - (BRIM - high_at - 0.03) * math.exp((high - mass) / stretch)

    mark = height(p.target_ug) if p.target_ug > 0 else base
    if not banded:
        return base, height(p.net_ug or 0), None, mark, None
    return base, height(p.net_ug or 0), min(low_at, mark), mark, max(high_at, mark)


def has_band(p: Picture) -> bool:
    """Whether the limits are a band to aim into. The first component has none: its
    limits are only what cup and scale allow, and drawn as a band they would mislead."""
    if p.low_ug is None or p.high_ug is None or p.target_ug is None:
        return False
    return p.high_ug - p.low_ug <= p.target_ug


def is_over(p: Picture) -> bool:
    """Whether more than the highest acceptable mass is in the cup."""
    return (
        p.stage == "pour"
        and p.high_ug is not None
        and p.net_ug is not None
        and p.net_ug > p.high_ug
    )


class CupPanel(Panel):
    """Draws :func:`heights` with the figures beside the marks."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        return (p.stage, p.net_ug, p.total_ug, p.target_ug, p.low_ug, p.high_ug, p.division_ug)

    def _wall(self, share: float) -> tuple[float, float, float]:
        """Left wall, right wall and y at a share of the cup's height."""
        top, bottom = 0.08 * self.h, 0.86 * self.h
        middle, half = 0.40 * self.w, (0.26 + 0.08 * share) * self.w
        return middle - half, middle + half, bottom - (bottom - top) * share

    def _fill(self, tag: str, low: float, high: float, colour: str) -> None:
        l0, r0, y0 = self._wall(low)
        l1, r1, y1 = self._wall(high)
        self.shape(tag, "polygon", (l0, y0, r0, y0, r1, y1, l1, y1), fill=colour)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        base, surface, low, target, high = heights(p)
        self._fill("empty", 0, 1, look.SHEET)
        if low is not None and high is not None:
            self._fill("band", low, high, look.BAND)
        over = is_over(p)
        if base > 0:
            self._fill("earlier", 0, base, look.EARLIER)
        if surface > base:
            top = high if over and high is not None else surface
            self._fill("poured", base, top, look.POURED)
        if base > 0 and surface > base:
            left, r, y = self._wall(base)
            self.shape("layer", "line", (left, y, r, y), fill=look.INK, width=2 * u)
        if over:
            self._jag(high if high is not None else surface, surface)
        elif surface > 0:
            left, r, y = self._wall(surface)
            self.shape("surface", "line", (left, y, r, y), fill=look.INK, width=4 * u)
        limits = (p.low_ug, p.target_ug, p.high_ug, p.division_ug)
        self.part("marks", self._marks, (low, target, high), limits)
        self.part("cup", self._cup, p.stage in ("cup", "ready"))
        if over:
            left, r, y = self._wall(1)
            self.shape("overbox", "rectangle", (left, 2 * u, r, y - 4 * u), fill=look.INK, width=0)
            self.text(
                "over",
                "OVER",
                (left + r) / 2,
                y / 2 - 1 * u,
                26 * u,
                width=r - left,
                anchor="center",
                bold=True,
                fill=look.SHEET,
            )
        self.text(
            "total",
            grams(p.total_ug, p.division_ug),
            0.40 * self.w,
            0.90 * self.h,
            22 * u,
            width=0.8 * self.w,
            anchor="n",
            bold=True,
        )
        self.text(
            "totalcap",
            "in all",
            0.40 * self.w,
            0.90 * self.h + 26 * u,
            14 * u,
            width=0.5 * self.w,
            anchor="n",
            fill=look.QUIET,
        )

    def _jag(self, low: float, high: float) -> None:
        l0, r0, y0 = self._wall(low)
        l1, r1, y1 = self._wall(high)
        teeth = 8
        edge: list[float] = []
        for i in range(2 * teeth + 1):
            edge += [r1 - (r1 - l1) * i / (2 * teeth), y1 + (0 if i % 2 else 9 * self.u)]
        self.shape("excess", "polygon", (l0, y0, r0, y0, *edge), fill=look.INK)

    def _cup(self, waiting: bool) -> None:
        l0, r0, y0 = self._wall(0)
        l1, r1, y1 = self._wall(1)
        lip = 10 * self.u
        self.shape(
            "cup",
            "line",
            (l1 - lip, y1, l1, y1, l0, y0, r0, y0, r1, y1, r1 + lip, y1),
            fill=look.QUIET if waiting else look.INK,
            width=5 * self.u,
            joinstyle="round",
            dash=(8, 6) if waiting else "",
        )

    def _marks(
        self,
        at: tuple[float | None, float | None, float | None],
        limits: tuple[int | None, int | None, int | None, int | None],
    ) -> None:
        u, edge = self.u, self.w - 4 * self.u
        (low, target, high), (low_ug, target_ug, high_ug, d) = at, limits
        if low is not None and high is not None:
            for tag, share, mass in (("low", low, low_ug), ("high", high, high_ug)):
                left, r, y = self._wall(share)
                self.shape(tag, "line", (left, y, r + 18 * u, y), fill=look.INK, width=3 * u)
                self.text(
                    f"{tag}text",
                    figure(mass, d),
                    edge,
                    y,
                    16 * u,
                    width=edge - r - 24 * u,
                    anchor="e",
                )
            r, y0, y1 = self._wall(high)[1] + 18 * u, self._wall(low)[2], self._wall(high)[2]
            self.shape("bracket", "line", (r, y0, r, y1), fill=look.INK, width=3 * u)
        if target is not None:
            left, r, y = self._wall(target)
            self.shape(
                "target",
                "line",
                (left - 2 * u, y, r + 4 * u, y),
                fill=look.INK,
                width=2 * u,
                dash=(7, 4),
            )
            self.shape(
                "pointer",
                "polygon",
                (left - 4 * u, y, left - 20 * u, y - 9 * u, left - 20 * u, y + 9 * u),
                fill=look.INK,
            )
            self.text(
                "targettext",
                figure(target_ug, d),
                edge,
                y,
                19 * u,
                width=edge - r - 24 * u,
                anchor="e",
                bold=True,
            )
