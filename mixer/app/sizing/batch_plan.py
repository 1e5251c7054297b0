"""From a need to batches that this resin, cup, room and scale allow, and what to say of them.

Must never leave a cap out in silence: what is not known is said.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.app.files.confirm import default_store, is_confirmed
from mixer.app.files.layup_file import USUAL_METHOD
from mixer.app.files.profiles import CupProfile, ResinProfile, ScaleProfile
from mixer.app.life.life import HOT, label_of
from mixer.app.life.thickenings import sooner
from mixer.app.resolve import USUAL_DIVISION_UG
from mixer.app.sentence import NotDone
from mixer.app.sizing.caps import (
    BEARABLE_C,
    HALVES_C,
    POUR_MIN,
    SHARE,
    USUAL_CUP,
    USUAL_UG,
    Lives,
    in_time,
    steepness,
)
from mixer.app.sizing.pace import LEAST
from mixer.app.sizing.stock import Stock
from mixer.app.sizing.unchecked_label import caps as label_caps
from mixer.plan.batches import CRUMB_UG, MOST_BATCHES, UG_PER_G, Batch, Cap, TooMany, batches
from mixer.plan.cloth import Method, Mix
from mixer.plan.layup import spoken
from mixer.plan.need import Need
from mixer.plan.thicken import epoxy_in
from mixer.pour.bands import smallest_provable_ug
from mixer.pour.recipe import Terms
from mixer.science.laminate import EPOXY_G_ML
from mixer.science.pot_life import MASS_G, TEMP_C, every_unchecked

STIR_MIN = 2.0  # where no resin says it (common practice, no source)
USUAL = (
    f"no batch is above {USUAL_UG / UG_PER_G:.0f} g, a usual cup (common practice, no source); "
    "larger ones heat themselves."
)
NO_RESIN = "no components, no smallest batch of which the scale can prove the ratio"
NO_USE = "No use in this room"
SEEN = (
    "All is reckoned with {part:.0%} of its label's times: so much sooner its cups were said to "
    "be thickening ({cups} in the record)."
)
TOO_SOON = (
    "Cups of it that were said to be thickening within a quarter of its label's time: {cups}. "
    "Nothing is reckoned by these; look at the hardener and its label before more is mixed."
)
TAUGHT = f"{LEAST} cups teach it that were sized by its kits, or whose layup it is"
NOR = f"nor than a usual cup of {USUAL_UG / UG_PER_G:.0f} g"


@dataclass(frozen=True, slots=True)
class Bench:
    """What stands there; ``None`` is "not said". ``pace`` is what the record has taught, grams
    a minute, and of how many cups; ``scale_most_ug`` what the scale itself says that it
    carries; ``stock`` what is left of the lots; ``at_bench`` that only the first batch is
    mixed now; ``thickened`` how soon cups of this resin did, by the model's own times, and
    ``too_soon`` of how many that is not believed."""

    resin: ResinProfile | None
    cup: CupProfile | None
    scale: ScaleProfile
    method: Method
    air_c: float | None
    pace: tuple[float, int] | None = None
    scale_most_ug: int | None = None
    stock: Stock | None = None
    at_bench: bool = False
    thickened: Sequence[float] = ()
    too_soon: int = 0

    @property
    def faster(self) -> float:
        """How many times as fast as by its label the cups of this resin were seen to go."""
        return 1 / sooner(self.thickened)

    @property
    def rate_g_min(self) -> float:
        """The builder's own, where it is known, else the method's."""
        return self.pace[0] if self.pace else self.method.rate_g_min

    @property
    def epoxy_g_ml(self) -> float:
        """The density of the mixed epoxy."""
        return self.resin.density_g_per_ml if self.resin else EPOXY_G_ML

    @property
    def prepare_min(self) -> float:
        """From taking up the resin to the end of the stir."""
        return POUR_MIN + (self.resin.stir_s / 60 if self.resin else STIR_MIN)


@dataclass(frozen=True, slots=True)
class Plan:
    """The row of batches, and the notes about it. ``lives`` is None where nothing tells how
    long they live."""

    batches: tuple[Batch, ...]
    notes: tuple[str, ...]
    lives: Lives | None = None

    def working_min(self, mass_g: float) -> float | None:
        """How long a batch of this mass can be used."""
        return self.lives.working_min(mass_g) if self.lives else None


def is_foremost(note: str) -> bool:
    """Whether it takes away what the rest is for: nobody is to read on before it."""
    return note.startswith(("No batches: ", NO_USE))


def plan(need: Need, bench: Bench) -> Plan:
    """The batches for this need. Raises :class:`NotDone` where the scale carries no cup."""
    caps, notes = _of_cup_and_scale(bench)
    time, lives, about_time = _of_time(need, bench, caps)
    notes += about_time
    if not time and bench.resin is not None:
        early = (
            f"No batches: {_why(bench.resin, bench.air_c)} it cannot be mixed twice "
            f"({bench.prepare_min:g} min each) and used up within {SHARE:.0%} of its working time "
            f"and no warmer than {BEARABLE_C:g} degC."
        )
        return Plan((), (*notes, early, HOT))
    least_ug = _provable_ug(bench) or 0
    lot = bench.stock.lot if bench.stock else None
    try:
        row = batches(
            need.portions,
            caps + time,
            bench.rate_g_min,
            bench.prepare_min,
            lot=lot,
            least_ug=least_ug,
            at_bench=bench.at_bench,
        )
    except TooMany:
        many = (
            f"No batches: they would be more than {MOST_BATCHES}; take a larger cup, or mix where "
            "it is cooler."
        )
        return Plan((), (*notes, many, HOT))
    if lives is not None:
        lives.look_at(sorted({batch.mass_ug / UG_PER_G for batch in row}))
        notes += _untold(row, lives)
    notes.append(_pace(bench, lives, row))
    notes += bench.stock.short(row) if bench.stock else []
    notes += _of_no_use(row, time, least_ug)
    notes += _too_small(row, bench, least_ug)
    notes += _crumbs(row, least_ug)
    notes += _of_resin(bench)
    return Plan(row, (*notes, HOT), lives)


def _of_cup_and_scale(bench: Bench) -> tuple[list[Cap], list[str]]:
    cup_ug = bench.cup.mass_ug if bench.cup else 0
    capacity_ug = bench.scale.capacity_ug
    left_ug = min(capacity_ug, bench.scale_most_ug or capacity_ug) - cup_ug
    if left_ug <= 0:
        raise NotDone(f"scale: {bench.scale.name} does not carry the cup; take another")
    caps = [Cap(left_ug, "scale")]
    if bench.cup is None:
        return caps, ["No cup was named: none limits a batch."]
    return [*caps, Cap(bench.cup.most_ug(bench.epoxy_g_ml), "cup")], []


def cups_of(mix: Mix, epoxy_g: float, bench: Bench) -> int | None:
    """How many cups have room for so much of a batch once it is thickened; ``None`` where no
    cup was named."""
    if bench.cup is None:
        return None
    most_g = epoxy_in(mix, bench.cup.volume_ml, bench.cup.fill, bench.epoxy_g_ml)
    return max(1, math.ceil(epoxy_g / most_g - 1e-9))


def _of_time(
    need: Need, bench: Bench, caps: Sequence[Cap]
) -> tuple[list[Cap], Lives | None, list[str]]:
    """The caps of time and heat, none where nothing can be used up; what tells how long a
    batch lives, if anything does; and the notes about it."""
    usual = Cap(USUAL_UG, USUAL_CUP)
    if bench.resin is None:
        return [usual], None, [f"No resin was named, with --resin: {NO_RESIN}, and {USUAL}"]
    if bench.resin.pot_life is None:
        return [usual], None, [f"{bench.resin.name} has no pot life in its profile: {USUAL}"]
    label, notes = label_of(bench.resin), []
    air_c = bench.air_c
    if air_c is None:
        air_c = label.points[0].temp_c
        notes.append(f"No temperature was given: the label's {air_c:g} degC.")
    cup_ml = bench.cup.volume_ml if bench.cup else None
    most_ug = min([round(need.apply_g.value * UG_PER_G), *(cap.most_ug for cap in caps)])
    asked = (most_ug / UG_PER_G, bench.rate_g_min, bench.prepare_min)
    lives = Lives.near(label, air_c, cup_ml, bench.faster)
    if bench.too_soon:
        notes.append(TOO_SOON.format(cups=bench.too_soon))
    if bench.faster > 1.0:
        notes.append(SEEN.format(part=1 / bench.faster, cups=len(bench.thickened)))
    least_c, most_c = TEMP_C
    room = f"the model was checked for {least_c:g} to {most_c:g} degC"
    if whys := every_unchecked(label, MASS_G[0], lives.air_c, lives.air_c):
        why = "; ".join(dict.fromkeys([*whys, *([] if lives.is_checked else [room])]))
        times = label_caps(label, air_c, cup_ml, *asked, bench.faster)
        words = (
            f"; no batch is more than the label itself allows, nor than the nearest that was "
            f"checked, {_sooner(steepness(label))}, {NOR}."
        )
        return [*times, usual] if times else [], None, [*notes, f"No working time: {why}{words}"]
    time = in_time(lives, *asked)
    if lives.is_checked:
        return [time] if time else [], lives, notes
    said = (
        f"No working time: {room}; at "
        f"{air_c:g} degC no batch is more than at {lives.air_c:g} degC"
        f"{f', {_sooner(lives.steeper)}' if lives.beyond_c else ''}, {NOR}."
    )
    return [time, usual] if time else [], lives, [*notes, said]


def _sooner(times: float) -> str:
    """
    >>> _sooner(2.0)
    'halved for each 10 degC more (common practice)'
    >>> _sooner(2.84)
    'divided by 2.8 for each 10 degC more (its label)'
    """
    more = f"for each {HALVES_C:g} degC more"
    if times < 2.05:
        return f"halved {more} (common practice)"
    return f"divided by {times:.1f} {more} (its label)"


def _why(resin: ResinProfile, air_c: float | None) -> str:
    """What is to blame where nothing can be used up in time."""
    told = label_of(resin).points[0]
    of = f"{told.minutes:g} min for {told.mass_g:g} g at {told.temp_c:g} degC"
    if air_c is None:
        return f"by a label of {of}"
    return f"at this temperature, {air_c:g} degC, by a label of {of},"


def _pace(bench: Bench, lives: Lives | None, row: Sequence[Batch]) -> str:
    by = f"your last {bench.pace[1]} cups" if bench.pace else bench.method.name
    said = (
        f"Reckoned with {bench.rate_g_min:.3g} g a minute ({by}) and "
        f"{bench.prepare_min:g} min to weigh and stir"
    )
    if lives is not None and lives.is_checked:
        said += (
            "; a batch is mixed, waits as long again and is used up within "
            f"{SHARE:.0%} of its working time"
        )
    if len(row) > 1:
        said += (
            "; who works alone mixes the next when the last cup is empty, and is "
            f"{bench.prepare_min:g} min later with each: mixed before, a cup takes "
            f"{bench.prepare_min:g} min longer than is reckoned"
        )
    if bench.pace is None and bench.method.name != USUAL_METHOD:
        said += f". No pace of yours is known for {bench.method.name} yet: {TAUGHT}"
    return f"{said}."


def _of_resin(bench: Bench) -> list[str]:
    resin, notes = bench.resin, []
    if resin is None:
        return []
    if bench.air_c is not None and bench.air_c < resin.room_coldest_c:
        notes.append(
            f"{bench.air_c:g} degC is colder than the {resin.room_coldest_c:g} degC that "
            f"{resin.name} asks for."
        )
    if not is_confirmed(resin, default_store()):
        notes.append(f"{resin.name} is not confirmed against its label.")
    return notes


def _provable_ug(bench: Bench) -> int | None:
    """From where on this scale can prove a ratio; ``None`` where no resin was named."""
    if bench.resin is None:
        return None
    scale = bench.scale
    division_ug = scale.division_ug or USUAL_DIVISION_UG
    terms = Terms(
        recipe=bench.resin.recipe(),
        size_ug=UG_PER_G,
        cup_most_ug=None,
        scale_most_ug=None,
        stir_ms=0,
        hands_free=False,
        repeatability_ug=scale.repeatability_ug,
        linearity_ug=scale.linearity_ug,
        drift_ug=scale.drift_ug,
    )
    return smallest_provable_ug(terms, division_ug)


def _of_no_use(row: Sequence[Batch], time: Sequence[Cap], least_ug: int) -> list[str]:
    """Where what can be used up in time is never enough to be proven, however it is divided."""
    short = [cap for cap in time if cap.most_ug < least_ug and cap.by != USUAL_CUP]
    if not short or len(row) < 2:
        return []
    most_g = min(cap.most_ug for cap in short) / UG_PER_G
    return [
        f"{NO_USE}, for so much and on this scale: no batch that can be used up in time is above "
        f"{most_g:.1f} g, and the scale can prove this resin's ratio from "
        f"{math.ceil(least_ug / UG_PER_G)} g on; take a slower resin, a cooler room or a finer "
        "scale."
    ]


def _untold(row: Sequence[Batch], lives: Lives) -> list[str]:
    """Why no working time stands at a batch of a resin that has one."""
    none = [n for n, one in enumerate(row, 1) if lives.working_min(one.mass_ug / UG_PER_G) is None]
    if not none or not lives.is_checked:  # that is said by itself
        return []
    least_g, most_g = MASS_G
    small = [n for n in none if row[n - 1].mass_ug < least_g * UG_PER_G]
    said = []
    if small:
        said.append(
            f"No working time for {_spoken(small)}: the model was checked for {least_g:g} to "
            f"{most_g:g} g."
        )
    if long := [n for n in none if n not in small]:
        said.append(f"No working time for {_spoken(long)}: it would not end within a week.")
    return said


def _spoken(numbers: Sequence[int]) -> str:
    return f"{'batch' if len(numbers) == 1 else 'batches'} {spoken(numbers)}"


def _too_small(row: Sequence[Batch], bench: Bench, least_ug: int) -> list[str]:
    """Which batches this scale cannot prove the ratio of, as the bench would say it."""
    scale = bench.scale
    division_ug = scale.division_ug or USUAL_DIVISION_UG
    small = [number for number, batch in enumerate(row, 1) if batch.mass_ug < least_ug]
    if not small:
        return []
    one = len(small) == 1
    steps = f"{division_ug / UG_PER_G:g} g" + ("" if scale.division_ug else ", as most have")
    return [
        f"{'Batch' if one else 'Batches'} {spoken(small)}: too small for this scale (steps of "
        f"{steps}), which can prove a ratio from "
        f"{math.ceil(least_ug / UG_PER_G)} g on; {'it' if one else 'they'} would stay unproven."
    ]


def _crumbs(row: Sequence[Batch], least_ug: int) -> list[str]:
    """Which batches are crumbs all the same; of one that no scale can prove that is said."""
    crumbs = [n for n, batch in enumerate(row, 1) if least_ug <= batch.mass_ug < CRUMB_UG]
    if not crumbs:
        return []
    return [
        f"{'Batch' if len(crumbs) == 1 else 'Batches'} {spoken(crumbs)}: below "
        f"{CRUMB_UG / UG_PER_G:g} g, which mostly clings to its cup, and no batch beside it can "
        "share it; mix more than it takes, and throw away what is left over."
    ]
