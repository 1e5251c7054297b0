"""The largest figure on the screen: what is left to pour, or what is left to wait."""

from __future__ import annotations

from mixer.app.picture import Picture
from mixer.desk import look
from mixer.desk.cup import has_band
from mixer.desk.line import cloth_in
from mixer.desk.panel import Panel, Scene
from mixer.desk.words import NOTHING, clean, clock, countdown, figure, grams, plain, ratio


def _pour(p: Picture) -> tuple[str, str, str]:
    what = clean(p.component or "", 60)
    d = p.division_ug
    if p.target_ug is None:
        caption = f"{what} in the cup" if what else "in the cup"
        return caption, grams(p.net_ug if what else p.total_ug, d), ""
    left = over = p.target_ug - (p.net_ug or 0)
    below = f"in the cup {figure(p.net_ug, d)} of {grams(p.target_ug, d)}"
    if p.high_ug is not None and p.net_ug is not None and p.net_ug > p.high_ug:
        over = p.net_ug - p.high_ug
        limit = "band" if has_band(p) else "limit"
        caption = f"too much {what}".rstrip() + f": over the {limit} by"
    elif left < 0:
        caption = f"{what} past the target by" if what else "past the target by"
    else:
        caption = f"{what} left to pour" if what else "left to pour"
    return caption, grams(abs(over), d), below


def _display(p: Picture, typed: str) -> tuple[str, str, str]:
    """What the display of a scale with no cable shows, or is to show."""
    display, d = p.display, p.division_ug
    assert display is not None
    limits = ""
    if display.low_ug is not None and display.high_ug is not None:
        limits = f"{figure(display.low_ug, d)} to {grams(display.high_ug, d)}"
    asked = grams(display.target_ug, d)
    shows = typed or display.shows
    if not shows:
        if p.stage == "cup":
            return "the scale is to show", asked, "with the empty cup on it"
        until = "until it shows" if p.cue == "part" else "pour until the scale shows"
        return until, asked, limits or "then type what it shows"
    below = f"asked {asked}" + (f"  ({limits})" if limits else "")
    shown = clean(shows.removesuffix("g").rstrip(), 12) + " g"
    return "it shows", shown, "the cup, not zeroed" if p.stage == "cup" else below


def _cloth(p: Picture, typed: str) -> tuple[str, str, str]:
    """What is typed where dry cloth is asked for; no scale shows it yet."""
    if typed:
        return "dry cloth", clean(cloth_in(typed) or typed, 24), "Enter takes it as its weight"
    return "dry cloth", NOTHING, "type its grams, then Enter"


def lines(p: Picture, typed: str = "") -> tuple[str, str, str, str]:
    """Caption, figure and two lines below, for any stage; ``typed`` is being typed.

    >>> p = Picture(stage="pour", component="resin", target_ug=44_100_000, net_ug=12_000_000)
    >>> lines(p)[:3]
    ('resin left to pour', '32.1 g', 'in the cup 12.0 of 44.1 g')
    """
    proven = "at least " if p.contact_at_least else ""
    age = "" if p.contact_age_s is None else f"{clock(p.contact_age_s)} since hardener met resin"
    age = f"{proven}{age}" if age else ""
    if p.stage == "stir" or (p.stage == "pour" and p.cue == "stir"):
        return "left to stir", countdown(p.remaining_s), "scrape the sides and the bottom", age
    if p.display is not None and p.display.target_ug is not None:
        return *_display(p, typed), age
    if p.stage == "pour" and (p.net_ug is not None or p.held is None):
        caption, large, below = _pour(p)
        if not is_fresh(p):
            caption += " (last reading)"
        if p.remaining_s is None:
            return caption, large, below, age
        drips = f"wait {countdown(p.remaining_s)} for the drips"
        return caption, large, drips, "   ·   ".join(t for t in (below, age) if t)
    if p.stage == "split" and p.component is not None:
        start = f"start with {grams(p.target_ug, p.division_ug)}" if p.target_ug else ""
        return clean(p.component, 60), grams(p.net_ug, p.division_ug), start, age
    if p.stage in ("live", "split"):
        cup = "the cup is live" if p.cup is None else f"cup {p.cup} is live"
        since = f"{cup}, {proven}since hardener met resin"
        return since, clock(p.contact_age_s), plain(p.verdict), _ratio(p)
    if p.stage == "ended":
        return "the batch has ended", plain(p.outcome) or "ended", plain(p.verdict), age
    if p.asks_cloth and (typed or p.scale.health == "typed"):
        return *_cloth(p, typed), ""
    seen = "on the scale" if is_fresh(p) else "on the scale (last reading)"
    return seen, clean(p.scale.text, 20) or NOTHING, "", age


def is_fresh(p: Picture) -> bool:
    """Whether the figure is of now; where no scale has been heard of it is no figure at all."""
    return p.scale.health == "fresh" or not p.scale.text


def _ratio(p: Picture) -> str:
    if p.ratio_actual is None:
        return ""
    asked = f", asked {ratio(p.ratio_target)}" if p.ratio_target is not None else ""
    return f"ratio {ratio(p.ratio_actual)}{asked}"


def _is_typed(scene: Scene) -> bool:
    """Whether the figure is the builder's own, and not what is asked for."""
    display = scene.picture.display
    if scene.picture.asks_cloth:
        return bool(scene.typed)
    return (
        display is not None and display.target_ug is not None and bool(scene.typed or display.shows)
    )


class FigurePanel(Panel):
    """A caption, the figure, two quiet lines."""

    def inputs(self, scene: Scene) -> object:
        p = scene.picture
        return (lines(p, scene.typed), _is_typed(scene), p.stage, p.verdict, is_fresh(p))

    def draw(self, scene: Scene) -> None:
        caption, large, below, quiet = lines(scene.picture, scene.typed)
        p, u, left = scene.picture, self.u, 20 * self.u
        weighing = p.stage in ("ready", "cup", "pour")
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
            fill=look.QUIET if weighing and not is_fresh(p) else look.INK,
        )
        if _is_typed(scene):
            box = (left - 12 * u, 38 * u, self.w - 8 * u, self.h - 66 * u)
            self.shape("typed", "rectangle", box, outline=look.INK, width=4 * u)
        y = self.h - 62 * u
        doubtful = p.stage in ("live", "ended") and p.verdict not in (None, "in-band")
        if doubtful:
            box = (left - 8 * u, y - 3 * u, left + width, y + 30 * u)
            self.shape("box", "rectangle", box, fill=look.INK, width=0)
        ink = look.SHEET if doubtful else look.INK
        self.text("below", below, left, y, 22 * u, width=width, fill=ink, bold=doubtful)
        self.text("quiet", quiet, left, self.h - 31 * u, 18 * u, width=width, fill=look.QUIET)
