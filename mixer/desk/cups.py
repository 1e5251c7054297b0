"""The live cups: number, age since first contact of hardener, verdict, pot life.

The oldest stands first, because it is the one that gels first. Must never leave a
live cup unmentioned, however many there are.
"""

from __future__ import annotations

from collections.abc import Callable

from mixer.app.picture import LiveCup
from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean, clock, grams, plain


class CupsPanel(Panel):
    """A row a cup. A click on one, or F2, opens the choice of how to close it."""

    def __init__(self, parent: object, on_close: Callable[[int], None]) -> None:
        super().__init__(parent, look.PAPER)  # type: ignore[arg-type]
        self._on_close = on_close
        self._rows: list[tuple[float, int]] = []  # lower edge, cup
        self.canvas.bind("<Button-1>", lambda event: self._click(event.y))

    def _click(self, y: int) -> None:
        for edge, cup in self._rows:
            if self.u * 30 < y <= edge:
                self._on_close(cup)
                return

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        cups = tuple(
            (
                c.cup,
                c.batch,
                c.resin_system,
                c.total_ug,
                clock(c.age_s),
                c.verdict,
                c.pot_life,
                c.filler,
                c.at_most,
            )
            for c in p.live_cups
        )
        return (cups, p.division_ug)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        cups = sorted(p.live_cups, key=lambda c: -c.age_s)
        left, right = 14 * u, self.w - 14 * u
        self.shape("rule", "line", (left, 1, right, 1), fill=look.LINE, width=1)
        caption = "live cups" if cups else "no live cup"
        self.text("caption", caption, left, 8 * u, 15 * u, width=0.4 * self.w, fill=look.QUIET)
        if cups:
            self.text(
                "how",
                "F2 or click: close, split",
                right,
                8 * u,
                15 * u,
                width=0.55 * self.w,
                anchor="ne",
                fill=look.QUIET,
            )
        top = 32 * u
        room = self.h - top - 4 * u
        least = 30 * u
        fits = max(1, int(room // least))
        shown = cups if len(cups) <= fits else cups[: max(1, fits - 1)]
        lines = len(shown) + (len(shown) < len(cups))
        step = min(92 * u, room / max(1, lines))
        self._rows = []
        for i, cup in enumerate(shown):
            self._cup(i, cup, top + i * step, step, p.division_ug)
            self._rows.append((top + (i + 1) * step, cup.cup))
        if len(shown) < len(cups):
            rest = ", ".join(str(c.cup) for c in cups[len(shown) :])
            self.text(
                "rest",
                f"and {len(cups) - len(shown)} more: {rest}",
                left,
                self.h - 5 * u,
                15 * u,
                width=right - left,
                anchor="sw",
                bold=True,
            )

    def _cup(self, i: int, cup: LiveCup, y: float, step: float, division_ug: int | None) -> None:
        u = self.u
        left, right = 14 * u, self.w - 14 * u
        gap = 3 * u
        self.shape(
            f"card{i}",
            "rectangle",
            (left, y + gap, right, y + step - gap),
            fill=look.SHEET,
            outline=look.LINE,
        )
        box = left + 62 * u
        self.shape(
            f"box{i}", "rectangle", (left, y + gap, box, y + step - gap), fill=look.INK, width=0
        )
        self.text(
            f"cup{i}",
            str(cup.cup),
            (left + box) / 2,
            y + step / 2,
            min(38 * u, step * 0.62),
            width=54 * u,
            anchor="center",
            bold=True,
            fill=look.SHEET,
            like="00",
        )
        x, tall = box + 10 * u, step > 56 * u
        first = y + (24 * u if tall else step * 0.5)
        middle = x + (0.36 if tall else 0.29) * (right - x)
        self.text(
            f"age{i}",
            clock(cup.age_s),
            x,
            first,
            min(28 * u, step * 0.5),
            width=(0.33 if tall else 0.27) * (right - x),
            anchor="w",
            bold=True,
            like="00:00" if tall else "0:00:00",
        )
        mass = f"{'≤ ' if cup.at_most else ''}{grams(cup.total_ug, division_ug)}"
        about = f"{mass}  {clean(cup.resin_system, 40)}"
        self.text(
            f"verdict{i}",
            plain(cup.verdict),
            right - 8 * u,
            first,
            16 * u,
            width=0.36 * (right - x),
            anchor="e",
            bold=cup.verdict != "in-band",
        )
        if not tall:
            self.text(
                f"about{i}", about, middle, first, 14 * u, width=0.3 * (right - x), anchor="w"
            )
            return
        self.text(
            f"size{i}",
            mass,
            middle,
            first,
            16 * u,
            width=0.23 * (right - x),
            anchor="w",
        )
        second = [", ".join(clean(t, 34) for t in (cup.resin_system, cup.filler) if t)]
        if cup.pot_life:
            second.append(f"label: {clean(cup.pot_life, 80)}")
        self.text(
            f"about{i}",
            "\n".join(t for t in second if t),
            x,
            y + 42 * u,
            14 * u,
            width=right - x - 8 * u,
            height=step - 46 * u,
        )
