"""A picture of how epoxy lives: its temperature, conversion and viscosity over time.

matplotlib draws it, an extra that nothing else needs: loaded in the call. It must never
write over what is no picture, nor draw where the model was not checked.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mixer.app.life.life_asked import Case
from mixer.app.sentence import NotDone, sentence
from mixer.science.cure import thicker, thinned_by_heat
from mixer.science.fitting import fit
from mixer.science.heat import Course
from mixer.science.label import follow

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: How each kind of picture begins.
_BEGINS = {".svg": (b"<?xml", b"<svg"), ".png": (b"\x89PNG",)}
#: Up to where :func:`thinned_by_heat` holds, degC.
_THIN_MOST_C = 60.0


def may_draw(text: str) -> Path:
    """The file to draw into; :class:`NotDone` where that cannot be."""
    path = Path(text)
    if path.suffix.lower() not in _BEGINS:
        raise NotDone(f"plot: {str(path)!r} was read; give a file that ends in .svg or .png.")
    try:
        _spare(path)
    except OSError as error:  # a name that is too long, a folder that may not be looked into
        raise NotDone(f"plot: {path} cannot be written: {sentence(error)}") from None
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        raise NotDone(
            "plot: a picture wants matplotlib; install it with pip install 'cupside[plot]'."
        ) from None
    return path


def _spare(path: Path) -> None:
    """What stands there and is no picture; :class:`NotDone`, or what the disk says."""
    if not path.parent.is_dir():
        raise NotDone(f"plot: there is no folder {path.parent} for {path.name}.")
    if path.exists():
        if not path.is_file():
            raise NotDone(f"plot: {path} is not a file; give another.")
        start = path.read_bytes()[:8]
        if start and not start.startswith(_BEGINS[path.suffix.lower()]):
            raise NotDone(f"plot: what stands at {path} is no picture, and was not overwritten.")


def draw(case: Case, found: dict[str, Any], path: Path) -> None:
    """Draw the case whose answer was ``found``, with its figures; the whole file or none."""
    from matplotlib import rc_context

    course = follow(fit(case.label), case.label, case.mass_g, case.air_c, case.start_c, case.shape)
    figure = drawn(case, found, course)
    kind = path.suffix.lower().removeprefix(".")
    whole = Path(os.path.realpath(path))  # a link keeps pointing at what it points at
    part = whole.with_name(f".{whole.name}.{os.getpid()}.part")
    try:
        with rc_context({"svg.fonttype": "none", "svg.hashsalt": "cupside"}):
            figure.savefig(part, format=kind, metadata={"Date": None} if kind == "svg" else None)
        part.replace(whole)
    except OSError as error:
        raise NotDone(f"plot: {path} cannot be written: {sentence(error)}") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def drawn(case: Case, found: dict[str, Any], course: Course) -> Figure:
    """Three axes over one time in minutes: temperature, conversion, viscosity."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8, 9), layout="constrained")
    temperature, conversion, viscosity = figure.subplots(3, 1, sharex=True)
    minutes = [t / 60 for t in course.t_s]
    shape = "" if case.shape.kind == "cup" else f", {case.shape.kind}"
    figure.suptitle(
        f"{case.mass_g:g} g of {case.resin.name}{shape}, air {case.air_c:g} degC\n"
        "An estimate: the maker's data sheet comes first"
    )
    temperature.plot(minutes, course.temp_c, color="#a33000")
    temperature.axhline(case.air_c, color="#555555", lw=0.8, ls=":", label="air")
    if case.softens_c is not None:
        temperature.axhline(case.softens_c, color="#000000", lw=0.8, ls="-.", label="foam softens")
    what, hottest_c = "hottest", found["hottest_c"]
    if found["foam"]:
        what, hottest_c = "foam, hottest", found["foam"]["hottest_c"]
    if hottest_c is not None:
        temperature.axhline(
            hottest_c, color="#a33000", lw=1, ls="--", label=f"{what} by what is doubted"
        )
    temperature.set_ylabel("temperature, its mean, degC")
    conversion.plot(minutes, [100 * part for part in course.conversion], color="#00507a")
    conversion.set_ylabel("conversion, %")
    conversion.set_ylim(0, 100)
    for as_warm, dashes, what in (
        (True, "-", f"as warm as it is, known up to {_THIN_MOST_C:g} degC"),
        (False, "--", "at one temperature"),
    ):
        thick = thickened(course, case, as_warm=as_warm)
        times = [factor for _, factor in thick]
        viscosity.plot([m for m, _ in thick], times, color="#3d5a00", ls=dashes, label=what)
    viscosity.set_yscale("log")
    viscosity.set_ylabel("viscosity, times the start")
    viscosity.legend(loc="upper left", fontsize="small")  # before the marks, told above
    viscosity.set_xlabel("minutes since hardener met resin")
    viscosity.set_xlim(0, _until(found, minutes[-1]))
    for axes in (temperature, conversion, viscosity):
        _mark(axes, found)
        axes.grid(alpha=0.3)
    temperature.legend(loc="best", fontsize="small")
    return figure


def thickened(course: Course, case: Case, *, as_warm: bool) -> Sequence[tuple[float, float]]:
    """Minutes, and how many times as thick as at the start; with ``as_warm`` its own warmth
    thins it meanwhile. Up to the gel, or to the temperature for which that is known."""
    gel = fit(case.label).cure.gel
    start = thinned_by_heat(course.temp_c[0])
    points = []
    for t_s, temp_c, alpha in zip(course.t_s, course.temp_c, course.conversion, strict=True):
        if alpha >= 0.999 * gel or (as_warm and temp_c > _THIN_MOST_C):
            break
        thinned = thinned_by_heat(temp_c) / start if as_warm else 1.0
        points.append((t_s / 60, thicker(max(0.0, alpha), gel) * thinned))
    return points


def _until(found: dict[str, Any], last: float) -> float:
    known = [found["working_min"], found["gel_min"], found["peak_min"]]
    return min(last, float(1.6 * max(minutes for minutes in known if minutes is not None)))


def _mark(axes: Axes, found: dict[str, Any]) -> None:
    """The working time with its range, and the gel."""
    if found["range_min"] is not None:
        low, high = found["range_min"]
        axes.axvspan(low, high, color="#555555", alpha=0.15, lw=0, label="working time, its range")
        axes.axvline(found["working_min"], color="#555555", lw=1)
    if found["gel_min"] is not None:
        axes.axvline(found["gel_min"], color="#000000", lw=1, ls="--", label="gel")
