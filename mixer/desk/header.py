"""The top line: which batch this is, whether it is simulated, how the scale is."""

from __future__ import annotations

from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import clean, grams


class Header(Panel):
    """Left the batch, right the scale's own figure and its health as word and shape."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        batch = (p.batch, p.resin_system, p.resin_source, p.size_ug, p.division_ug)
        return (batch, p.simulated, p.scale, p.stage, p.display is not None)

    def draw(self, scene: Scene) -> None:
        p = scene.picture
        asked = (p.resin_system, p.size_ug, p.division_ug)
        self.part("batch", self._batch, p.batch, asked, p.simulated)
        self._scale(scene)

    def _batch(
        self, batch: int | None, asked: tuple[str, int | None, int | None], simulated: bool
    ) -> None:
        resin_system, size_ug, division_ug = asked
        u = self.u
        middle, pad = self.h / 2, 20 * u
        title = "cupside" if batch is None else f"Batch {batch}"
        self.text("title", title, pad, middle, 22 * u, width=self.w * 0.17, anchor="w", bold=True)
        terms = []
        if resin_system:
            terms.append(clean(resin_system, 80))
        if size_ug is not None:
            terms.append(grams(size_ug, division_ug))
        left = pad + self.w * 0.17 + 8 * u
        self.text(
            "terms", "  ·  ".join(terms), left, middle, 18 * u, width=self.w * 0.35,
            height=self.h - 4 * u, anchor="w",
        )  # fmt: skip
        if simulated:
            x0, x1 = self.w * 0.565, self.w * 0.695
            self.shape(
                "mark",
                "rectangle",
                (x0, self.h * 0.17, x1, self.h * 0.83),
                fill=look.PAPER,
                outline=look.INK,
                width=2 * u,
                dash=(6, 4),
            )
            self.text(
                "simulated",
                "simulated",
                (x0 + x1) / 2,
                middle,
                18 * u,
                width=x1 - x0 - 10 * u,
                anchor="center",
                bold=True,
            )
        self.shape("rule", "line", (0, self.h - 1, self.w, self.h - 1), fill=look.LINE, width=1)

    def _scale(self, scene: Scene) -> None:
        p, u = scene.picture, self.u
        middle, right = self.h / 2, self.w - 20 * u
        if (
            p.display is not None or p.scale.health == "typed"
        ):  # there is no scale whose health could be told
            self.text(
                "health", "no cable: weights are typed", right, middle, 17 * u,
                width=self.w * 0.29, anchor="e", bold=True,
            )  # fmt: skip
            return
        unseen = (
            p.stage == "ready" and p.scale.health == "lost" and not (p.scale.text or p.scale.say)
        )
        if unseen:
            self.text(
                "health",
                "scale: not asked yet",
                right,
                middle,
                16 * u,
                width=self.w * 0.27,
                anchor="e",
                fill=look.QUIET,
            )
            return
        self.text(
            "weight",
            clean(p.scale.text, 40),
            self.w * 0.88,
            middle,
            20 * u,
            width=self.w * 0.1,
            anchor="e",
            bold=True,
            like="0000.0 g",
        )
        self.part("health", self._health, p.scale.health)

    def _health(self, health: str) -> None:
        u, middle = self.u, self.h / 2
        self.text(
            "caption",
            "scale",
            self.w * 0.715,
            middle,
            16 * u,
            width=self.w * 0.06,
            anchor="w",
            fill=look.QUIET,
        )
        self.text(
            "health",
            clean(health, 20),
            self.w - 20 * u,
            middle,
            17 * u,
            width=self.w * 0.062,
            anchor="e",
            bold=health != "fresh",
        )
        # disc: fresh; ring: stale; cross: lost
        x, r = self.w * 0.897, 7 * u
        box = (x - r, middle - r, x + r, middle + r)
        if health == "lost":
            self.shape("cross1", "line", box, fill=look.INK, width=4 * u)
            self.shape(
                "cross2", "line", (box[0], box[3], box[2], box[1]), fill=look.INK, width=4 * u
            )
        else:
            inside = look.INK if health == "fresh" else look.PAPER
            self.shape("disc", "oval", box, fill=inside, outline=look.INK, width=3 * u)
