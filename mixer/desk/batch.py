"""The recipe as a small table: what each jug has given and what is asked of it; and how long
the batch should last."""

from __future__ import annotations

from mixer.app.picture import Row
from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import NOTHING, clean, figure, plain, ratio

MOST_ROWS = 6
FOOT = 76  # of the panel's height, in pixels of the smallest window


class BatchPanel(Panel):
    """Rows in pouring order; the ratio below them once it is known."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        proof = (p.ratio_target, p.ratio_actual, p.verdict)
        return (p.rows, p.component, p.division_ug, p.resin_source, proof, p.lasts)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        self.part("head", self._head)
        shown = p.rows[:MOST_ROWS]
        top = 30 * u
        step = min(34 * u, (self.h - top - FOOT * u) / max(1, len(shown)))
        for i, row in enumerate(shown):
            now = row.name == p.component and not row.settled
            more = len(p.rows) - MOST_ROWS if i == MOST_ROWS - 1 else 0
            y = top + step * (i + 0.5)
            self.part(f"row{i}", self._row, i, row, now, more, y, step, p.division_ug)
        under = top + step * max(1, len(shown)) + 3 * u
        proof = (p.ratio_target, p.ratio_actual, p.verdict)
        self.part("foot", self._foot, under, p.lasts, p.resin_source, *proof)
        if not p.rows:
            self.text("none", NOTHING, self._left, top + 8 * u, 19 * u, width=self._wide)

    @property
    def _left(self) -> float:
        return 14 * self.u

    @property
    def _wide(self) -> float:
        return self.w - 2 * self._left

    def _end(self, column: str) -> float:
        """Where the figures of this column end."""
        return self._left + {"parts": 0.45, "cup": 0.62, "of": 0.79}[column] * self._wide

    def _head(self) -> None:
        u = self.u
        for tag, caption, x, anchor in (
            ("c0", "recipe, g", self._left, "nw"),
            ("c1", "parts", self._end("parts"), "ne"),
            ("c2", "in cup", self._end("cup"), "ne"),
            ("c3", "of", self._end("of"), "ne"),
        ):
            width = (0.33 if tag == "c0" else 0.16) * self._wide
            self.text(tag, caption, x, 6 * u, 15 * u, width=width, anchor=anchor, fill=look.QUIET)

    def _row(
        self, i: int, row: Row, now: bool, more: int, y: float, step: float, division_ug: int | None
    ) -> None:
        u, wide = self.u, self._wide
        if now:
            self.shape(
                f"now{i}",
                "rectangle",
                (4 * u, y - step / 2 + 1, self.w - 4 * u, y + step / 2 - 1),
                fill=look.SHEET,
                outline=look.INK,
                width=2,
            )
        px = min(19 * u, step * 0.7)
        name = clean(row.name, 40) + (f"  +{more}" if more > 0 else "")
        self.text(
            f"name{i}", name, self._left, y, px, width=0.33 * wide, height=step - 2 * u,
            anchor="w", bold=now,
        )  # fmt: skip
        for key, said in (
            ("parts", f"{row.parts:g}"),
            ("cup", figure(row.net_ug, division_ug)),
            ("of", figure(row.target_ug, division_ug)),
        ):
            self.text(
                f"{key}{i}",
                said,
                self._end(key),
                y,
                px,
                width=(0.11 if key == "parts" else 0.15) * wide,
                anchor="e",
                bold=now and key == "cup",
            )
        mark = "settled" if row.settled else "now" if now else ""
        self.text(
            f"mark{i}", mark, self._left + wide, y, min(15 * u, px), width=0.19 * wide,
            anchor="e", bold=now,
        )  # fmt: skip

    def _foot(
        self, under: float, lasts: str, resin_source: str, ratio_target: float | None,
        ratio_actual: float | None, verdict: str | None,
    ) -> None:  # fmt: skip
        u, left, wide = self.u, self._left, self._wide
        # Until the ratio is known there is room for one line more.
        unknown = ratio_actual is None and verdict is None
        room = self.h - (52 if unknown else FOOT) * u - under
        if lasts and room > 12 * u:
            self.text("lasts", clean(lasts), left, under, 13 * u, width=wide, height=room, least=8)
        y = self.h - 24 * u
        source = f"profile: {clean(resin_source, 120)}" if resin_source else ""
        self.text("source", source, left, y, 14 * u, width=wide, fill=look.QUIET)
        asked = f"asked {ratio(ratio_target)}" if ratio_target is not None else ""
        self.text("asked", asked, left, y - 24 * u, 17 * u, width=wide)
        if ratio_actual is not None:
            actual = f"ratio {ratio(ratio_actual)}"
            self.text("ratio", actual, left, y - 48 * u, 17 * u, width=0.6 * wide, bold=True)
        self.text(
            "verdict", plain(verdict), left + wide, y - 48 * u, 17 * u, width=0.38 * wide,
            anchor="ne", bold=True,
        )  # fmt: skip
