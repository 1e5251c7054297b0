"""The strip under the top line: quiet help with the keys, or a banner that cannot be missed.

One place for what interrupts: the question whether to drop the batch, a hold and
its reason, trouble with the scale; in this order. It always takes the same room, so
that nothing jumps when something goes wrong.
"""

from __future__ import annotations

from mixer.desk import look
from mixer.desk.backstage import ON
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean, plain

ASK = "Delete or Enter again: drop it.  Any other key: keep it."
#: Why a pour is held, in as few words; what to do about it stands under the cue.
HELD = {
    "by-hand": "By you",
    "silent": "Scale silent",
    "link": "Scale unplugged",
    "nonsense": "Scale unreadable",
    "overload": "Overload",
    "scale-error": "Scale error",
    "unit": "Unit changed",
    "tared": "Tare pressed",
    "untared": "Tare cleared",
    "lifted": "Cup off",
}
PUT_RIGHT = "Put right, it goes on by itself; by Space, unproven."
SIMPLE_KEYS = (
    "Space  go on      Esc  hold      Delete  drop      F2  close a cup      F3  note      F7  air"
)
SHARE_KEYS = (
    "Space  take it, or all done      F8  not weighed      filler's name, Enter      "
    "F9  second cup      F3  note"
)
STIR_KEYS = "F8  split it then      F9  moved to a second cup      Delete  drop      F3  note"
OUT_KEYS = "Delete  drop      F4  use it, as out of band      F5  part it      F3  note"
TYPED_KEYS = (
    "0–9 . ⌫  what it shows      ↑ ↓  a step (Shift: ten)      Space  go on      Esc  hold      "
    "Delete  drop"
)
CLOTH_KEYS = (
    "0–9 and Enter  what the dry cloth weighs, in g      Space  take it      Esc  begin anew      "
    "Delete  drop"
)
LINE_KEYS = "Enter  take it as the dry cloth's weight      ⌫  mend it      Esc  leave it"
OVER_KEYS = "Space or Enter  next batch      F2  close a cup"
READY_KEYS = "Tab  next field      ↑ ↓  choose      Enter  start      F2  close a cup"


class Strip(Panel):
    """One line, in one of three weights: quiet, framed, dark with slanted ends."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        typed = (p.display is not None, p.asks_cloth, p.asks_cloth and bool(scene.typed))
        leaving = (scene.leaving, p.running if scene.leaving else "")
        quiet = (typed, scene.help, p.stage, _may_be_used(scene), scene.choosing, leaving)
        return (scene.asking, p.held, p.scale.health, p.scale.say, quiet)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        if scene.asking:
            self._banner("DROP?", ASK)
        elif p.held is not None:
            how = "Space: go on" if p.held == "by-hand" else PUT_RIGHT
            self._banner("HELD", f"{HELD.get(p.held, plain(p.held))}.  {how}")
        elif p.scale.health not in ("fresh", "typed") and p.scale.say:
            inset = 3 * u
            self.shape(
                "frame",
                "rectangle",
                (16 * u, inset, self.w - 16 * u, self.h - inset),
                fill=look.SHEET,
                outline=look.INK,
                width=3 * u,
            )
            self._line(
                f"Scale {clean(p.scale.health, 20)}:  {clean(p.scale.say)}", look.INK, 19, bold=True
            )
        else:
            self._line(self._quiet(scene), look.QUIET, 17)

    def _quiet(self, scene: Scene) -> str:
        stage = scene.picture.stage
        if scene.leaving:
            running = scene.picture.running
            then = f", and then nothing warns of {running}" if running else ""
            return f"All done here. This window closes by itself in a moment{then}."
        if scene.choosing:
            return READY_KEYS
        if stage == "ready":
            return ""  # until the app has answered, no key does anything
        if stage == "split":
            return SHARE_KEYS
        if scene.picture.asks_cloth:
            return LINE_KEYS if scene.typed else CLOTH_KEYS
        if stage == "stir" and not scene.help:
            return STIR_KEYS
        if stage in ON and _may_be_used(scene):
            return OUT_KEYS
        if stage in ON and scene.picture.display is not None and stage != "stir":
            return TYPED_KEYS
        if stage in ON:
            return f"{clean(scene.help, 60)}      {SIMPLE_KEYS}" if scene.help else SIMPLE_KEYS
        return OVER_KEYS

    def _line(self, text: str, ink: str, px: float, bold: bool = False) -> None:
        u = self.u
        self.text(
            "line",
            text,
            self.w / 2,
            self.h / 2,
            px * u,
            width=self.w - 60 * u,
            height=self.h - 8 * u,
            anchor="center",
            fill=ink,
            bold=bold,
        )

    def _banner(self, word: str, text: str) -> None:
        u, h = self.u, self.h
        self.shape("ground", "rectangle", (0, 0, self.w, h), fill=look.INK, width=0)
        for i in range(4):
            for side, x in (("l", (8 + 26 * i) * u), ("r", self.w - (112 - 26 * i) * u)):
                slant = (x, h - 6 * u, x + 12 * u, h - 6 * u, x + 26 * u, 6 * u, x + 14 * u, 6 * u)
                self.shape(f"slant{side}{i}", "polygon", slant, fill=look.PAPER)
        self.text(
            "word",
            word,
            132 * u,
            h / 2,
            30 * u,
            width=110 * u,
            anchor="w",
            bold=True,
            fill=look.SHEET,
        )
        self.text(
            "reason",
            text,
            254 * u,
            h / 2,
            21 * u,
            width=self.w - 254 * u - 128 * u,
            height=h - 6 * u,
            anchor="w",
            bold=True,
            fill=look.SHEET,
        )


def _may_be_used(scene: Scene) -> bool:
    """Whether what is over the band is a batch already, with hardener in it."""
    return scene.picture.cue == "over" and scene.picture.contact_age_s is not None
