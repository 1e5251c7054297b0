"""What to do now: the cue as a word and a shape, and one sentence."""

from __future__ import annotations

from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean, plain

OPENING = "The port is being opened; the scale has said nothing yet."


#: Characters: what is told of kits before go, with all that is not known of their batch.
LONGEST = 1100


class CuePanel(Panel):
    """Turns dark for the cues that mean "act at once"."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        return (p.stage, p.cue, p.say, p.asks_cloth, scene.trouble, p.held is not None)

    def draw(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        # Before the first weight there is no batch yet that could be told what to do.
        cue, say = (p.cue, p.say) if p.stage != "ready" else ("wait", OPENING)
        loud = cue in look.LOUD and p.held is None
        ink = look.SHEET if loud else look.INK
        # Of dry cloth there is more to be said than by one word.
        size, px = (60 * u, 30 * u) if p.asks_cloth else (84 * u, 25 * u)
        self.part("cue", self._cue, cue, loud, size)
        left, below = 20 * u, 14 * u + size + 12 * u
        said = f"This window had trouble: {scene.trouble}" if scene.trouble else say
        self.text(
            "say",
            clean(said, LONGEST),
            left,
            below,
            px,
            width=self.w - 2 * left,
            height=self.h - below - 8 * u,
            fill=ink,
            least=10,
        )

    def _cue(self, cue: str, loud: bool, size: float) -> None:
        """The word and its shape, and the ground of all."""
        u = self.u
        ground, ink = (look.INK, look.SHEET) if loud else (look.SHEET, look.INK)
        self.shape("sheet", "rectangle", (0, 0, self.w, self.h), fill=ground, width=0)
        left, top = 20 * u, 14 * u
        outlines = look.CUE_SHAPES.get(cue, ())
        for i, outline in enumerate(outlines):
            at = tuple(
                (left if n % 2 == 0 else top) + c * size / 100 for n, c in enumerate(outline)
            )
            self.shape(f"shape{i}.{len(outline)}", "polygon", at, fill=ink)
        x = left + (size + 18 * u if outlines else 0)
        self.text(
            "cue",
            plain(cue),
            x,
            top + size / 2,
            size - 2 * u,
            width=self.w - x - 16 * u,
            anchor="w",
            bold=True,
            fill=ink,
            like="place",
        )
