"""What is said of how long epoxy lives, beside the figures and of them.

Must never leave out where they come from, nor what to do with a cup that gets hot.
"""

from __future__ import annotations

from typing import Any

from mixer.app.life.life_asked import SOFTENS_C, STACK_SHARE, Case, amine_share
from mixer.app.sizing.ratio import USUAL
from mixer.science.cure import FUNCTIONS
from mixer.science.fitting import fit
from mixer.science.label import Label
from mixer.science.pot_life import FILLED, MOVES, MUCH_J_G, STEEPER, Life, faster, moves
from mixer.science.stoichiometry import gel_conversion

FIRST = "An estimate. The maker's data sheet comes first."
MIDDLE = (
    "The times are of the whole of it: its hot middle may be sooner, at worst before half of them, "
    "and some 30 degC hotter; of an epoxy near where it runs away by far more."
)
HOT = (
    "A cup that is warming: spread it out, use it, or set it outdoors on something that does "
    "not burn, early. A cup too hot to hold or smoking: do not lift, pour or breathe it; "
    "ventilate and keep clear."
)
RULE = "Common practice: warmer by 10 degC, or a much larger mass, about halves it."
COOLER = (
    "Epoxy that is warmer than its room: its times may be a third shorter, which the range "
    "reckons with."
)
STEEP = (
    "By its label it is {found:.1f} times as fast when 10 degC warmer: of so steep an epoxy the "
    "times of other masses and temperatures may be off by a quarter, and the range begins early."
)
FAR_OFF = (
    "By its equivalent weights it has {share:.2f} amine hydrogens for each epoxide{so}; compare "
    "parts and weights with the label and the data sheet, as one of them may be a slip."
)
NEVER = ": so far from 1 a difunctional resin with a diamine would not gel at all"
NO_GEL = ": less of it can react than a gel takes, and none is told"
HARDLY = (
    "The two points of its label tell little of how many times as fast it is when 10 degC warmer: "
    "the times of other masses and temperatures may be off by a quarter."
)
MUCH_HEAT = (
    "It gives off much heat ({heat:.0f} J/g): near where it runs away it may gel a quarter sooner "
    "than is told, a third where it is warmer than its room, and its middle be 90 degC hotter."
)

_ENDS = {"gel": "it gels", "viscosity": "it is twice as thick", "usable": "it is hard to use"}
_WORKING = {
    "gel": "until it is five times as thick (common practice, no source)",
    "viscosity": "until it is twice as thick at one temperature: a warm cup is thinner than that",
    "usable": "until it is hard to use, as on the label",
}


def first(case: Case) -> list[str]:
    """What comes before any figure."""
    notes = [FIRST, _on_label(case.label)]
    share = amine_share(case.resin)
    if share is not None and not USUAL[0] <= share <= USUAL[1]:
        never = gel_conversion(*FUNCTIONS, share) is None
        so = "" if case.label.gels else NEVER if never else NO_GEL
        notes.append(FAR_OFF.format(share=share, so=so))
    if not case.said_air:
        of = "" if case.start_c == case.air_c else " of the room"
        notes.append(f"No temperature{of} was given: the label's {case.air_c:g} degC.")
    return notes


def unchecked(
    why: str, case: Case, figures: dict[str, Any], foam: tuple[Case, dict[str, Any]] | None
) -> list[str]:
    """In the place of figures, and of those that there are beside it all the same: of a tray,
    whose times are meant, and of the ``foam`` under a stack that heats it no more."""
    tray = _of_tray(figures["tray"])
    beside = _unsure(case) if figures["largest"] else []
    beside += [*tray, MIDDLE] if figures["tray"] else []
    beside += _foam_all_the_more(foam) if case.softens_c is not None else []
    return [f"No figure: {why}.", *beside, RULE, HOT]


def _foam_all_the_more(of_less: tuple[Case, dict[str, Any]] | None) -> list[str]:
    """A figure may be withheld, a warning may not."""
    if of_less is None or of_less[1]["softens"] is False:
        return [
            "Whether the foam under it softens is not known here: lay it thin, in several "
            "sittings, or in the cool."
        ]
    less, foam = of_less
    assert less.shape.depth_m is not None
    softens = "softens" if foam["softens"] else "may soften, by what is doubted,"
    return [
        f"The foam {softens} under {less.mass_g:g} g of it {less.shape.depth_m * 1000:g} mm thick "
        f"at {less.air_c:g} degC already: lay it thinner, in several sittings, or in the cool."
    ]


def of_life(case: Case, life: Life, figures: dict[str, Any]) -> list[str]:
    """What the figures mean, and what to mind."""
    notes = [f"Working time: {_WORKING[case.label.ends]}."]
    if case.shape.kind == "cup" and case.cup is None:
        notes.append(f"No cup was named: one that this fills to {FILLED:.0%}.")
    if life.gel_s is None and case.label.gels:
        notes.append("It does not gel within a week.")
    if life.runaway:
        notes.append("It runs away: its heat feeds on itself.")
    elif life.may_run_away:
        notes.append(
            "By what is doubted it may run away all the same, up to "
            f"{life.hottest_c:.0f} degC, its middle more."
        )
    notes += _unsure(case, life)
    if figures["foam"]:
        notes += _of_foam(case, figures["foam"])
    middle = [] if case.shape.kind == "film" else [MIDDLE]  # a film is as warm all through
    return [*notes, *_of_tray(figures["tray"]), *middle, HOT]


def _of_tray(tray: dict[str, Any] | None) -> list[str]:
    if not tray or tray["runaway"] or not tray["may_run_away"]:
        return []
    return [f"In a tray it may run away too{_hottest(tray)}."]


def _unsure(case: Case, life: Life | None = None) -> list[str]:
    """Where the whole of a cup is not within a tenth of what its parts come to."""
    notes = [COOLER] if case.start_c > case.air_c else []
    if life is not None and life.may_run_away:
        heat_j_g = fit(case.label).heat_j_g
        notes += [MUCH_HEAT.format(heat=heat_j_g)] if heat_j_g > MUCH_J_G else []
    if (found := faster(case.label)) > STEEPER:
        notes.append(STEEP.format(found=found))
    elif moves(case.label) > MOVES[0]:
        notes.append(HARDLY)
    return notes


def lines(found: dict[str, Any]) -> list[str]:
    """The answer for a person."""
    said = [_what(found)]
    if found["working_min"] is not None:
        said.append(f"  working time  {_working(found)}")
    if found["gel_min"] is not None:
        said.append(f"  gel           about {_spoken(found['gel_min'])}")
    if found["peak_c"] is not None:
        when = _spoken(found["peak_min"])
        said.append(
            f"  hottest       about {found['peak_c']:.0f} degC after {when}{_hottest(found)}"
        )
    if found["foam"]:
        foam = found["foam"]
        said.append(
            f"  foam          about {foam['peak_c']} degC, {foam['hottest_c']} by what is doubted; "
            f"softens at {foam['softens_c']:g} degC"
        )
    return [*said, *_largest(found["largest"] or {}), *_tray(found["tray"]), *found["notes"]]


def _what(found: dict[str, Any]) -> str:
    where = f" in a cup {found['cup']}" if found["cup"] else ""
    if found["shape"] != "cup":
        where = f" in a {found['shape']} of {found['depth_mm']:g} mm"
    if found["shape"] == "stack":
        where += f" on foam, {found['share']:.0%} of its weight"
    return (
        f"{found['mass_g']:g} g of {found['resin']}{where}, air {found['air_c']:g} degC, epoxy "
        f"{found['start_c']:g} degC as it is mixed"
    )


def _working(figures: dict[str, Any]) -> str:
    low, high = figures["range_min"]
    return f"about {_spoken(figures['working_min'])} ({_spoken(low)} to {_spoken(high)})"


def _largest(largest: dict[str, Any]) -> list[str]:
    said = []
    if "lasting_g" in largest:
        lasting = f"lasts {_spoken(largest['lasting_min'])}"
        said.append(f"  {lasting:<13} {_up_to(largest['lasting_g'], 'g')}")
    if "calm_g" in largest:
        said.append(f"  stays calm    {_up_to(largest['calm_g'], 'g')}")
    if "thickest_mm" in largest:
        said.append(f"  spares foam   {_up_to(largest['thickest_mm'], 'mm')}")
    return said


def _up_to(pair: dict[str, Any], unit: str) -> str:
    about, sure = pair["about"], pair["sure"]
    if about is None:
        return "not even the smallest that the model was checked for"
    sure = "no figure" if sure is None else f"{sure:g} {unit}"
    if pair["open"]:
        return f"{about:g} {unit}, and no larger one was looked at (to be sure: {sure})"
    return f"up to about {about:g} {unit} (to be sure: {sure})"


def _tray(tray: dict[str, Any] | None) -> list[str]:
    if tray is None or tray["working_min"] is None:
        return []
    surely = " by the best estimate" if tray["may_run_away"] else ""
    runs = "runs away too" if tray["runaway"] else f"does not run away{surely}"
    return [
        f"  in a tray     {tray['depth_mm']:g} mm deep: working time {_working(tray)}, hottest "
        f"about {tray['peak_c']:.0f} degC{_hottest(tray)}; it {runs}"
    ]


def _hottest(figures: dict[str, Any]) -> str:
    return f", up to {figures['hottest_c']:.0f} degC by what is doubted"


def _of_foam(case: Case, foam: dict[str, Any]) -> list[str]:
    notes = []
    if not case.said_softens:
        notes.append(
            f"Foam that softens at {SOFTENS_C:g} degC (common practice, no source): its data sheet "
            "comes first."
        )
    if not case.said_share:
        notes.append(
            f"A stack of which {STACK_SHARE:.0%} by weight is epoxy, the rest glass (common "
            "practice, no source)."
        )
    if foam["softens"] is None:
        notes.append("By what is doubted the foam may soften: lay it thinner, or in two sittings.")
    elif foam["softens"]:
        notes.append("The foam softens under it: lay it thinner, in two sittings, or in the cool.")
    return notes


def _on_label(label: Label) -> str:
    points = " and ".join(
        f"{p.minutes:g} min for {p.mass_g:g} g at {p.temp_c:g} degC" for p in label.points
    )
    return f"The label: {points}, until {_ENDS[label.ends]}."


def _spoken(minutes: float) -> str:
    if minutes < 120:
        return f"{minutes:.0f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min"
