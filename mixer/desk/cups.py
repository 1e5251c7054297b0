"""The live cups: number, age since first contact of hardener against the range of its
working time, verdict, and what is to be said of it; and beneath them what cures.

The oldest stands first, because it is the one that gels first. Must never leave a
live cup unmentioned, however many there are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import floor

from mixer.app.picture import LiveCup
from mixer.app.words import MAY_SLEEP
from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean, clock, grams, plain, span

#: What a cup has come to, in as few words, and what to do; the whole sentence is said once.
MARKS = {
    "half": "half over",
    "late": "four fifths over",
    "over": "time over",
    "thick": "thickening",
    "warm": "may heat itself",
    "hot": "may be hot",
}
DOINGS = {
    "late": "begin nothing new with it",
    "over": "what has thickened wets out no more",
    "thick": "as you said",
    "warm": "spread it, use it, or set it outside on what does not burn",
    "hot": "if so, do not lift it or breathe it; ventilate, keep clear",
}
LOUD = ("warm", "hot")  # these turn a card dark


class CupsPanel(Panel):
    """A row a cup. A click on one, or F2, opens the choice of how to close or split it; F6 says
    that one is thickening, F7 how warm the air is."""

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
            replace(
                c, age_s=floor(c.age_s), stands=replace(c.stands, cues=())
            )  # a clock shows whole seconds
            for c in p.live_cups
        )
        return (cups, p.division_ug, p.curing, p.may_sleep)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        cups = sorted(p.live_cups, key=lambda c: -c.age_s)
        left, right = 14 * u, self.w - 14 * u
        self.shape("rule", "line", (left, 1, right, 1), fill=look.LINE, width=1)
        caption = "live cups" if cups else "no live cup"
        self.text("caption", caption, left, 8 * u, 15 * u, width=0.4 * self.w, fill=look.QUIET)
        if cups or p.curing:
            self.text(
                "how",
                "F2 close   F6 thickens   F7 air" if cups else "F7 air",
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
        else:
            more = (*p.curing, *([MAY_SLEEP] if p.may_sleep else []))
            self._beneath(more, top + lines * step + 4 * u)

    def _beneath(self, more: tuple[str, ...], top: float) -> None:
        """What cures, and that nobody may be warned, in the room that the live cups leave: these
        come first."""
        u, left = self.u, 14 * self.u
        for i in range(min(len(more), int((self.h - top) // (40 * u)))):
            self.text(
                f"beneath{i}", clean(more[i], 120), left, top + i * 40 * u, 15 * u,
                width=self.w - 2 * left, height=36 * u, least=9,
            )  # fmt: skip

    def _cup(self, i: int, cup: LiveCup, y: float, step: float, division_ug: int | None) -> None:
        u, gap = self.u, 3 * self.u
        left, right = 14 * u, self.w - 14 * u
        ground, ink = (look.INK, look.SHEET) if cup.stands.mark in LOUD else (look.SHEET, look.INK)
        edge, tall = look.INK if cup.stands.mark else look.LINE, step > 56 * u
        card = (left, y + gap, right, y + step - gap)
        self.shape(
            f"card{i}",
            "rectangle",
            card,
            fill=ground,
            outline=edge,
            width=1 + bool(cup.stands.mark),
        )
        box = left + (62 if tall else 42) * u
        number = (left, y + gap, box, y + step - gap)
        self.shape(f"box{i}", "rectangle", number, fill=look.INK, outline=look.SHEET, width=1)
        self.text(
            f"cup{i}", str(cup.cup), (left + box) / 2, y + step / 2, min(38 * u, step * 0.62),
            width=(54 if tall else 34) * u, anchor="center", bold=True, fill=look.SHEET, like="00",
        )  # fmt: skip
        x = box + (10 if tall else 7) * u
        wide = right - x - 8 * u
        first = y + (19 * u if tall else step * 0.5)
        age = f"≥{int(cup.age_s // 60)} min" if cup.age_at_least else clock(cup.age_s)
        self.text(
            f"age{i}", age, x, first, min(28 * u, step * 0.5),
            width=(0.28 if tall else 0.22) * wide, anchor="w", bold=True, fill=ink,
            like="0:00:00" if cup.age_at_least or not tall else "00:00",
        )  # fmt: skip
        within, word = span(cup.stands.low_s, cup.stands.high_s), ""
        if not within and any(cue.mark != "thick" for cue in cup.stands.cues):
            within = "plain rule"
        if cup.stands.thick_s is not None:
            within = f"of {floor(cup.stands.thick_s / 60)} min"
        if not tall and (cup.stands.mark not in ("", "half", "late") or not within):
            # There is no room for both, and these marks are told by no figures.
            word = MARKS.get(cup.stands.mark, _mass(cup, division_ug))
        px = (16 if tall else 15) * u
        self.text(
            f"of{i}", word or within, x + (0.3 if tall else 0.25) * wide, first, px,
            width=(0.33 if tall else 0.38) * wide, anchor="w", fill=ink,
            bold=bool(word and cup.stands.mark),
        )  # fmt: skip
        self.text(
            f"verdict{i}", plain(cup.verdict), right - 8 * u, first, px, width=0.36 * wide,
            anchor="e", bold=cup.verdict != "in-band", fill=ink,
        )  # fmt: skip
        if tall:
            self._below(i, cup, (x, y + 33 * u, wide, step - 46 * u), ink, division_ug)
            self._course(i, cup, (x, y + step - gap - 8 * u, wide), ink)

    def _below(
        self,
        i: int,
        cup: LiveCup,
        at: tuple[float, float, float, float],
        ink: str,
        division_ug: int | None,
    ) -> None:
        """What is to be said of it; else what is in it, and its label."""
        x, y, wide, tall = at
        what = ", ".join(clean(t, 34) for t in (cup.resin_system, cup.filler) if t)
        said = f"{_mass(cup, division_ug)}  {what}"
        if cup.stands.mark:
            do = DOINGS.get(cup.stands.mark, "")
            if cup.stands.mark == "thick" and cup.stands.thick_s is not None:
                do = f"since {floor(cup.stands.thick_s / 60)} min, {do}"
            said = ": ".join(filter(None, (MARKS[cup.stands.mark], do)))
        elif cup.pot_life:
            said += f"\nlabel: {clean(cup.pot_life, 80)}"
        elif cup.stands.say:
            said += "\nno time can be told"
        bold = cup.stands.mark not in ("", "half")
        self.text(
            f"say{i}", said, x, y, 14 * self.u, width=wide, height=tall, bold=bold, fill=ink,
            least=9,
        )  # fmt: skip

    def _course(self, i: int, cup: LiveCup, at: tuple[float, float, float], ink: str) -> None:
        """Its age on the way to the range of its working time; that is over from when it was said
        to thicken on."""
        low_s, high_s, thick_s = cup.stands.low_s, cup.stands.high_s, cup.stands.thick_s
        if low_s is None or high_s is None:
            return
        x, y, wide = at
        u = self.u
        each = wide / max(high_s * 1.1, 1.0)
        self.shape(
            f"way{i}", "line", (x, y + 3 * u, x + wide, y + 3 * u), fill=look.EARLIER, width=1
        )
        from_, to = low_s * each, high_s * each
        if thick_s is not None:
            from_, to = min(thick_s * each, wide - u), wide
        range_ = (x + from_, y, x + to, y + 6 * u)
        self.shape(f"range{i}", "rectangle", range_, fill=look.EARLIER, outline=ink, width=1)
        there = min(wide, cup.age_s * each)
        self.shape(f"there{i}", "line", (x, y + 3 * u, x + there, y + 3 * u), fill=ink, width=3 * u)


def _mass(cup: LiveCup, division_ug: int | None) -> str:
    """The mix in it; of what nobody weighed the most that it can be."""
    return f"{'≤ ' if cup.at_most else ''}{grams(cup.total_ug, division_ug)}"
