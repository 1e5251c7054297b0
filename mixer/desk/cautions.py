"""The usual cautions, in one quiet line that never goes away."""

from __future__ import annotations

from mixer.desk import look
from mixer.desk.panel import Panel, Scene

CAUTIONS = (
    "Gloves, eye protection, fresh air; never solvent on skin. "
    "The maker's data sheet comes first. In band speaks of the weighed ratio only."
)


class Cautions(Panel):
    """Says the same always."""

    def inputs(self, scene: Scene) -> object:
        return None

    def draw(self, scene: Scene) -> None:
        u = self.u
        self.shape("rule", "line", (0, 0, self.w, 0), fill=look.LINE, width=1)
        self.text(
            "cautions",
            CAUTIONS,
            self.w / 2,
            self.h / 2,
            15 * u,
            width=self.w - 40 * u,
            anchor="center",
            fill=look.QUIET,
        )
