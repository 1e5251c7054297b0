"""The recipe as a small table: what each jug has given and what is asked of it; and how long
the batch should last."""

from __future__ import annotations

from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import NOTHING, clean, figure, plain, ratio

MOST_ROWS = 6


class BatchPanel(Panel):
    """Rows in pouring order; the ratio below them once it is known."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        proof = (p.ratio_target, p.ratio_actual, p.verdict)
        return (p.rows, p.component, p.division_ug, p.resin_source, proof, p.lasts)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        d = p.division_ug
        left, right = 14 * u, self.w - 14 * u
        wide = right - left
        ends = {"parts": left + 0.45 * wide, "cup": left + 0.62 * wide, "of": left + 0.79 * wide}
        for tag, caption, x, anchor in (
            ("c0", "recipe, g", left, "nw"),
            ("c1", "parts", ends["parts"], "ne"),
            ("c2", "in cup", ends["cup"], "ne"),
            ("c3", "of", ends["of"], "ne"),
        ):
            self.text(
                tag,
                caption,
                x,
                6 * u,
                15 * u,
                width=(0.33 if tag == "c0" else 0.16) * wide,
                anchor=anchor,
                fill=look.QUIET,
            )
        shown = p.rows[:MOST_ROWS]
        top = 30 * u
        foot = 76 * u
        step = min(34 * u, (self.h - top - foot) / max(1, len(shown)))
        for i, row in enumerate(shown):
            y = top + step * (i + 0.5)
            now = row.name == p.component and not row.settled
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
            more = (
                f"  +{len(p.rows) - MOST_ROWS}"
                if i == MOST_ROWS - 1 and len(p.rows) > MOST_ROWS
                else ""
            )
            self.text(
                f"name{i}",
                clean(row.name, 40) + more,
                left,
                y,
                px,
                width=0.33 * wide,
                height=step - 2 * u,
                anchor="w",
                bold=now,
            )
            for key, said in (
                ("parts", f"{row.parts:g}"),
                ("cup", figure(row.net_ug, d)),
                ("of", figure(row.target_ug, d)),
            ):
                self.text(
                    f"{key}{i}",
                    said,
                    ends[key],
                    y,
                    px,
                    width=(0.11 if key == "parts" else 0.15) * wide,
                    anchor="e",
                    bold=now and key == "cup",
                )
            mark = "settled" if row.settled else "now" if now else ""
            self.text(
                f"mark{i}", mark, right, y, min(15 * u, px), width=0.19 * wide, anchor="e", bold=now
            )
        under = top + step * max(1, len(shown)) + 3 * u
        # Until the ratio is known there is room for one line more.
        room = self.h - (52 * u if p.ratio_actual is None and p.verdict is None else foot) - under
        if p.lasts and room > 12 * u:
            self.text(
                "lasts", clean(p.lasts), left, under, 13 * u, width=wide, height=room, least=8
            )
        y = self.h - 24 * u
        source = f"profile: {clean(p.resin_source, 120)}" if p.resin_source else ""
        self.text("source", source, left, y, 14 * u, width=wide, fill=look.QUIET)
        asked = f"asked {ratio(p.ratio_target)}" if p.ratio_target is not None else ""
        self.text("asked", asked, left, y - 24 * u, 17 * u, width=wide)
        if p.ratio_actual is not None:
            actual = f"ratio {ratio(p.ratio_actual)}"
            self.text("ratio", actual, left, y - 48 * u, 17 * u, width=0.6 * wide, bold=True)
        self.text(
            "verdict", plain(p.verdict), right, y - 48 * u, 17 * u, width=0.38 * wide, anchor="ne",
            bold=True,
        )  # fmt: skip
        if not p.rows:
            self.text("none", NOTHING, left, top + 8 * u, 19 * u, width=wide)
