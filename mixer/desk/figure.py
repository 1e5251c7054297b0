"""The largest figure on the screen: what is left to pour, or what is left to wait."""

from __future__ import annotations

from mixer.app.picture import Picture
from mixer.desk import look
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import NOTHING, clean, clock, countdown, figure, grams, plain, ratio


def _pour(p: Picture) -> tuple[str, str, str]:
    what = clean(p.component or "", 60)
    d = p.division_ug
    if p.target_ug is None:
        caption = f"{what} in the cup" if what else "in the cup"
        return caption, grams(p.net_ug, d), ""
    left = p.target_ug - (p.net_ug or 0)
    below = f"in the cup {figure(p.net_ug, d)} of {grams(p.target_ug, d)}"
    if p.high_ug is not None and p.net_ug is not None and p.net_ug > p.high_ug:
        caption = f"too much {what}".rstrip() + ", past the target by"
    elif left < 0:
        caption = f"{what} past the target by" if what else "past the target by"
    else:
        caption = f"{what} left to pour" if what else "left to pour"
    return caption, grams(abs(left), d), below


def lines(p: Picture) -> tuple[str, str, str, str]:
    """Caption, figure and two lines below, for any stage."""
    waits = p.remaining_s is not None
    age = (
        f"{clock(p.contact_age_s)} since hardener met resin" if p.contact_age_s is not None else ""
    )
    if p.stage == "pour":
        caption, large, below = _pour(p)
        drips = f"wait {countdown(p.remaining_s)} for the drips" if waits else ""
        return caption, large, below, "   ·   ".join(t for t in (drips, age) if t)
    if p.stage == "stir":
        return "left to stir", countdown(p.remaining_s), "scrape the sides and the bottom", age
    proof = "   ·   ".join(t for t in (plain(p.verdict), _ratio(p)) if t)
    if p.stage == "live":
        cup = "the cup is live" if p.cup is None else f"cup {p.cup} is live"
        return f"{cup}, since hardener met resin", clock(p.contact_age_s), proof, ""
    if p.stage == "ended":
        return "the batch has ended", plain(p.outcome) or "ended", proof, age
    return "on the scale", clean(p.scale.text, 20) or NOTHING, "", ""


def _ratio(p: Picture) -> str:
    if p.ratio_actual is None:
        return ""
    asked = f", asked {ratio(p.ratio_target)}" if p.ratio_target is not None else ""
    return f"ratio {ratio(p.ratio_actual)}{asked}"


class FigurePanel(Panel):
    """A caption, the figure, two quiet lines."""

    def inputs(self, scene: Scene) -> object:
        return lines(scene.picture)

    def draw(self, scene: Scene) -> None:
        caption, large, below, quiet = lines(scene.picture)
        u, left = self.u, 20 * self.u
        width = self.w - 2 * left
        self.text("caption", caption, left, 6 * u, 23 * u, width=width, fill=look.QUIET, bold=True)
        tall = self.h - 100 * u
        self.text(
            "figure",
            large,
            left - 4 * u,
            36 * u + tall / 2,
            tall * 1.02,
            width=width + 4 * u,
            anchor="w",
            bold=True,
            like="00.0 g" if large[-1:] == "g" else "00:00",
        )
        self.text("below", below, left, self.h - 62 * u, 22 * u, width=width)
        self.text("quiet", quiet, left, self.h - 31 * u, 18 * u, width=width, fill=look.QUIET)
