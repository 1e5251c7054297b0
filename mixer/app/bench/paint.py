"""From the state of the pour to the picture that faces draw. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from devices.readings import Fault
from devices.scale import Health, health
from mixer.app.life.ages import Age, age_ms, is_time
from mixer.app.life.cup_life import name_of, no_later, standing
from mixer.app.picture import LiveCup, Picture, Row, ScaleView
from mixer.app.resolve import Order
from mixer.pour.facts import Called, Ended
from mixer.pour.sight import Sight
from mixer.pour.state import Pour
from mixer.pour.words import FAULT_REASON, Advice
from mixer.record import views

#: What is said at the end, by how it came.
ENDED = {
    "dropped": "The batch was dropped; what was poured stands in the record.",
    "interrupted": "The batch was interrupted; what was poured stands in the record.",
    "scale-lost": "The scale stayed away: the batch ended; what was poured stands in the record.",
}
#: Said with it where something is in its cup, which would else be the next one's empty cup.
NO_EMPTY_CUP = " Its cup is no empty one: discard it."

#: Said with the stir and with the verdict, which speaks of the ratio alone.
MAY_BE_OLDER = (
    "The age of the hardener is only what is proven, as the computer’s clock was set back: it "
    "may be older; look at it, feel it, or discard it."
)


def held(pour: Pour, advice: Advice, missing: Fault | str | None) -> tuple[str | None, Advice]:
    """Why the pour waits, or ``None``; and what is then said.

    In mid-pour a hold is a fact. Before the tare there is nothing to hold yet, but why
    no weight comes is told all the same: ``missing`` is the scale's fault, or ``silent``.
    """
    if pour.result is not None:
        return None, advice
    if pour.trouble is not None:
        return pour.trouble.reason, advice
    if pour.held_by_hand:
        return "by-hand", advice
    if pour.stage != "cup" or missing is None:
        return None, advice
    if isinstance(missing, Fault):
        return FAULT_REASON[missing.kind], Advice("wait", missing.say)
    return missing, Advice("wait", "The scale says nothing: look at its cable and its power.")


def _ended(pour: Pour, result: Ended, say: str) -> str:
    said = ENDED.get(result.how, say)
    return said + NO_EMPTY_CUP if any(pour.amounts_ug) else said


def picture(
    pour: Pour, sight: Sight, advice: Advice, batch: int | None, now_s: float, **seen: Any
) -> Picture:
    """The pour as it stands now, with what else is seen."""
    called, result, recipe = _poured_now(pour), pour.result, pour.terms.recipe
    say = _ended(pour, result, advice.say) if isinstance(result, Ended) else advice.say
    # While the weight cannot be followed, gross minus tare is no content of any cup.
    followed = sight.last if pour.trouble is None else None
    gross = followed.mass_ug + pour.shift_ug if followed else None
    net = pour.shown_net_ug(gross) if called and gross is not None else None
    total: int | None = None
    if pour.tared and pour.called is None:
        total = sum(pour.amounts_ug)
    elif pour.tared and gross is not None:
        total = gross - pour.tared.tare_ug
    contact = None if pour.contact_ms is None else now_s - pour.contact_ms / 1000
    return Picture(
        stage=pour.stage,
        component=recipe.components[called.component].name if called else None,
        net_ug=net,
        total_ug=total,
        target_ug=called.target_ug if called else None,
        low_ug=called.low_ug if called else None,
        high_ug=called.high_ug if called else None,
        cue=advice.cue,
        say=say,
        remaining_s=advice.remaining_s,
        contact_age_s=contact,
        batch=batch,
        cup=getattr(result, "cup", None),
        ratio_target=recipe.ratio_target,
        ratio_actual=result.ratio_actual if result else None,
        verdict=result.verdict if result else None,
        outcome=getattr(result, "how", "live") if result else None,
        size_ug=pour.terms.size_ug,
        division_ug=sight.division_ug or None,
        rows=tuple(_rows(pour, net)),
        tags=tuple(c.tag.lower() for c in recipe.components if c.tag),
        **seen,
    )


def with_proven_age(picture: Picture, pour: Pour, until_ms: int | None) -> Picture:
    """The same, marked where first contact was before this time of the age clock, so that it
    may be longer ago than it seems; said too once all is in the cup."""
    if until_ms is None or pour.contact_ms is None or pour.contact_ms > until_ms:
        return picture
    told = picture.stage in ("stir", "split", "live")
    say = f"{picture.say} {MAY_BE_OLDER}" if told else picture.say
    return replace(picture, contact_at_least=True, say=say)


def _poured_now(pour: Pour) -> Called | None:
    """What is being poured; nothing is while a part of it is taken out."""
    return None if pour.parting else pour.called


def titles(order: Order) -> dict[str, Any]:
    """The names of what was ordered, for its picture."""
    return {
        "resin_system": str(order.about.get("resin_system") or ""),
        "resin_source": str(order.about.get("resin_source") or ""),
        "simulated": order.simulated,
    }


def scale_view(sight: Sight, now_s: float) -> ScaleView:
    """The scale as a person sees it."""
    last, fault = sight.last, sight.fault_now(now_s)
    state = health(last.at_s if last else None, now_s, link_failed=fault is not None)
    say = fault.say if fault else "" if state is Health.FRESH else "no reading"
    return ScaleView(str(state), last.text if last else "", say)


def live_cups(
    cups: Sequence[views.LiveCup],
    now: views.Moment,
    whys: Mapping[int, Mapping[str, Any]] | None = None,
) -> tuple[LiveCup, ...]:
    """The live cups with their ages (see :mod:`mixer.app.life.ages`) and where each stands by it;
    ``whys`` is what there is in the place of a forecast, by its batch. The cups of one batch are
    named together, but for one that thickens or has a clock of its own."""
    together: dict[int, list[int]] = {}
    for cup in cups:
        if not _alone(cup):
            together.setdefault(cup.batch, []).append(cup.cup)
    return tuple(
        _live_cup(cup, name_of([cup.cup] if _alone(cup) else together[cup.batch]), now, whys or {})
        for cup in cups
    )


def _alone(cup: views.LiveCup) -> bool:
    return cup.thickened_s is not None or bool(cup.own_foretold)


def set_back(cups: Iterable[views.LiveCup], now: views.Moment) -> str:
    """A sentence where UTC is behind what the record has seen of these cups; else empty."""
    numbers = ", ".join(str(cup.cup) for cup in cups if _age(cup, now).set_back)
    if not numbers:
        return ""
    return (
        f"The computer’s clock was set back: the age of each live cup ({numbers}) is what is "
        "proven, and it may be older; look at it, feel it, or discard it."
    )


def _live_cup(
    cup: views.LiveCup, name: str, now: views.Moment, whys: Mapping[int, Mapping[str, Any]]
) -> LiveCup:
    proven = _age(cup, now)
    age = proven.ms / 1000
    foretold = cup.foretold
    if cup.batch in whys:
        foretold = {**no_later(whys[cup.batch], cup.foretold), "mass_ug": cup.total_ug}
    return LiveCup(
        cup=cup.cup,
        batch=cup.batch,
        resin_system=cup.resin_system,
        total_ug=cup.total_ug,
        age_s=age,
        verdict=cup.verdict,
        pot_life=_pot_life(cup),
        stands=standing(name, age, foretold, cup.thickened_s),
        filler=cup.filler,
        at_most=cup.at_most,
        alone=_alone(cup),
        age_at_least=proven.at_least,
    )


def age_s(cup: views.LiveCup, now: views.Moment) -> float:
    """How old it is since first contact of hardener."""
    return _age(cup, now).ms / 1000


def _age(cup: views.LiveCup, now: views.Moment) -> Age:
    utc = cup.contact_utc if is_time(cup.contact_utc) else cup.live_utc
    return age_ms(replace(cup.contact, utc=utc), cup.later, now)


def _pot_life(cup: views.LiveCup) -> str:
    said = cup.pot_life or {}
    if cup.row.off:  # that is of another mix
        return ""
    if not all(key in said for key in ("time", "mass", "temperature")):
        return ""
    return f"{said['time']} for {said['mass']} at {said['temperature']}".replace("degC", "°C")


def _rows(pour: Pour, net_ug: int | None) -> Iterable[Row]:
    called = _poured_now(pour)
    for index, component in enumerate(pour.terms.recipe.components):
        now = called is not None and called.component == index
        amount = pour.amounts_ug[index] if pour.poured[index] else None
        yield Row(
            name=component.name,
            role=component.role,
            parts=component.parts,
            net_ug=net_ug if now else amount,
            target_ug=pour.targets_ug[index],
            settled=pour.poured[index] and not now,
        )
