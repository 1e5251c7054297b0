"""What a live cup has come to, by its age and what was foretold of it. Pure.

The earlier end of the range is what warns, and the later end is no promise. A cue is a
sentence that does not change, so that it is said and heard once. It never blocks anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from mixer.app.picture import Cue, Standing

#: From the lightest to the gravest: the gravest that has come is what the cup stands at.
MARKS = ("half", "late", "over", "thick", "warm", "hot")
_HEAT = ("warm", "hot")
_TIMES = ("warm_s", "hot_s")
#: That it thickens, said so much sooner or later than the model's time, is a slip (our choice).
CREDIBLE = (0.25, 4.0)
OLD_S = 8 * 3600.0  # by then a usual cup has cured and cooled (common practice, no source)
COOLS_S = 2 * 3600.0  # how long after it was hottest a cup may still be hot (our choice)
#: How a warning is marked where no figure may be given.
BY_RULE = " (by the plain rule)"
#: Of a resin without a pot life: as much as a usual cup, from which on it may run hot (common
#: practice, no source), and by when it is warned of: after half of the quickest label that was
#: checked, and seven tenths.
USUAL_UG = 100_000_000
UNKNOWN_S = {"warm": 240.0, "hot": 336.0}
AWAITED = "it is still being thought out"  # why there is no forecast yet
#: Of a cup that thickens before a quarter of its time.
WRONG = "So early: look at the hardener and its label, it may be the wrong one."
SPREAD = "Spread it out: so much may run hot."
_SHARES = {"half": 0.5, "late": 0.8, "over": 1.0}


def name_of(cups: Sequence[int]) -> str:
    """The cups that are spoken of together, as all that is said of them begins.

    >>> name_of([3]), name_of([1, 2, 4])
    ('cup 3', 'each of cups 1, 2 and 4')
    """
    *first, last = map(str, cups)
    return f"each of cups {', '.join(first)} and {last}" if first else f"cup {last}"


def off_told(off: Mapping[str, float]) -> str:
    """How far a weighed ratio is off, in words: of what goes first (see :class:`BatchRow`).

    >>> off_told({"hardener": -0.5, "fast": -0.25}), off_told({"fast": 1.083, "slow": -1.0})
    ('50.0 % too little hardener', '108.3 % too much fast')
    """
    name, by = next(iter(off.items()))
    return f"{100 * abs(by):.1f} % too {'little' if by < 0 else 'much'} {name}"


def standing(
    cup: str, age_s: float, foretold: Mapping[str, Any], thick_s: float | None = None
) -> Standing:
    """Of a cup of this name and age, or of several of one batch (:func:`name_of`); ``thick_s``
    is when the builder said that it thickens.

    >>> told = {"working_s": 1500, "low_s": 1200, "high_s": 1900, "warm_s": 700, "hot_s": None}
    >>> [standing("cup 1", age_s, told).mark for age_s in (0, 600, 700, 1200, 90_000)]
    ['', 'half', 'warm', 'warm', 'over']
    >>> [cue.mark for cue in standing("cup 1", 1200, told).cues]
    ['half', 'warm', 'late', 'over']
    """
    low_s, high_s, working_s = (_s(foretold, name) for name in ("low_s", "high_s", "working_s"))
    rule_s = _s(foretold, "rule_low_s")
    at = {name: _s(foretold, f"{name}_s") for name in ("warm", "hot")}
    if is_large_and_unknown(foretold):
        at |= UNKNOWN_S
    if low_s is None:  # no figure may be given, and a warning is
        at |= {mark: rule_s * share for mark, share in _SHARES.items() if rule_s is not None}
    else:
        at |= {mark: low_s * share for mark, share in _SHARES.items()}
    if thick_s is not None:
        at = {mark: s for mark, s in at.items() if mark not in _SHARES or (s or 0.0) <= thick_s}
        at |= {mark: _sooner(at[mark], thick_s, working_s or rule_s) for mark in _HEAT}
        if is_too_soon(foretold, thick_s):  # a wrong hardener, of which no model knows
            at["warm"] = min(thick_s, at["warm"] or thick_s)
        at["thick"] = thick_s
    come = sorted(
        ((s, MARKS.index(mark)) for mark, s in at.items() if s is not None and s <= age_s)
    )
    cues = tuple(Cue(MARKS[i], _said(MARKS[i], cup, foretold, thick_s)) for _, i in come)
    cooled_s = max(cooled_at_s(foretold), *((at[mark] or 0.0) + COOLS_S for mark in _HEAT))
    present = [cue for cue in cues if age_s < cooled_s or cue.mark not in _HEAT]
    gravest = max(present, key=lambda cue: MARKS.index(cue.mark), default=None)
    say = gravest.say if gravest is not None else _lasts(cup, foretold)
    mark, is_old = gravest.mark if gravest else "", age_s >= max(cooled_s, until_s(foretold))
    return Standing(working_s, low_s, high_s, cues, mark, say, is_old, thick_s)


def cooled_at_s(foretold: Mapping[str, Any]) -> float:
    """From when on nothing is said of its heat.

    >>> cooled_at_s({}) / 3600, cooled_at_s({"warm_s": 1, "hot_s": None, "peak_s": 36000}) / 3600
    (8.0, 12.0)
    """
    times = [s for name in _TIMES if (s := _s(foretold, name)) is not None]
    if times and (peak_s := _s(foretold, "peak_s")) is not None:
        times.append(peak_s)
    return max([OLD_S, *(s + COOLS_S for s in times)])


def until_s(foretold: Mapping[str, Any]) -> float:
    """How old it is once all that was foretold of it is over; where nothing was, or no end, as old
    as the model tells of any. Twice the time by the plain rule, as that is the least.

    >>> slow = {"label": [], "low_s": 42_000, "high_s": 80_000, "gel_s": 90_000}
    >>> [until_s(told) / 3600 for told in (slow, {"why": "no pot life"}, {})]
    [25.0, 8.0, 168.0]
    """
    times = [s for name in ("high_s", "gel_s") if (s := _s(foretold, name)) is not None]
    if (rule_s := _s(foretold, "rule_low_s")) is not None:
        times.append(2 * rule_s)
    if not times and ("label" in foretold or not foretold):
        from mixer.science.label import LONGEST_S  # a first weight waits for none of it

        return LONGEST_S
    return max([cooled_at_s(foretold), *times])


def no_later(rule: Mapping[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """What warns by the plain rule while no answer comes, no later than what was foretold
    ``before`` of another question.

    >>> before = {"low_s": 600, "warm_s": 300, "hot_s": None}
    >>> rule = {"by_rule": True, "rule_low_s": 1200, "warm_s": 600, "hot_s": 840}
    >>> list(no_later(rule, before).values()), no_later({"why": "none"}, before)
    ([True, 600.0, 300.0, 840], {'why': 'none'})
    """
    found = dict(rule)
    if rule.get("by_rule"):
        for name, names in (("rule_low_s", ("low_s", "rule_low_s")), *((n, (n,)) for n in _TIMES)):
            times = [rule.get(name), *(_s(before, one) for one in names)]
            found[name] = min((s for s in times if s is not None), default=None)
    return found


def _sooner(heat_s: float | None, thick_s: float, usual_s: float | None) -> float | None:
    """What thickens before its time is warm before it too, by as much as can be believed; not
    before the word."""
    if heat_s is None or heat_s <= thick_s or not usual_s:
        return heat_s
    return max(thick_s, heat_s * min(1.0, max(CREDIBLE[0], thick_s / usual_s)))


def is_too_soon(foretold: Mapping[str, Any], thick_s: float) -> bool:
    """Whether a word that it thickens came so soon that it is a slip, or another hardener.

    >>> [is_too_soon({"model_s": 1500}, age_s) for age_s in (300, 400)], is_too_soon({}, 60)
    ([True, False], False)
    """
    names = ("model_s", "working_s", "rule_low_s")
    usual_s = next((s for name in names if (s := _s(foretold, name))), None)
    return usual_s is not None and thick_s < CREDIBLE[0] * usual_s


def is_large_and_unknown(foretold: Mapping[str, Any]) -> bool:
    """Whether nothing tells how long it lives, and it is more than a usual cup.

    >>> why = "its resin's profile has no pot life"
    >>> [is_large_and_unknown({"why": why, "mass_ug": g * 1_000_000}) for g in (60, 900)]
    [False, True]
    """
    told = "label" in foretold or not isinstance(foretold.get("why"), str)
    return not told and (_s(foretold, "mass_ug") or 0.0) > USUAL_UG


def minutes(low_s: float, high_s: float) -> str:
    """A range, the earlier end rounded down.

    >>> minutes(1290, 1710)
    '21 to 29 min'
    """
    return f"{int(low_s // 60)} to {-int(-high_s // 60)} min"


def _lasts(cup: str, foretold: Mapping[str, Any]) -> str:
    low_s, high_s = _s(foretold, "low_s"), _s(foretold, "high_s")
    if low_s is not None and high_s is not None:
        within = f"{minutes(low_s, high_s)} from the hardener on{_room(foretold)}"
        return f"{cup.capitalize()} should last {within}."
    why = foretold.get("why")
    if not isinstance(why, str):
        return ""
    said = f"No time can be told for {cup}: {why}.{unsaid(foretold)}"
    if "label" not in foretold:
        spread = f" {SPREAD}" if is_large_and_unknown(foretold) else ""
        return f"{said} The maker's data sheet has it.{spread}"
    from mixer.app.life.life import RULE  # seldom needed, and a first weight waits for all of it
    from mixer.science.pot_life import MASS_G

    large = (_s(foretold, "mass_ug") or 0.0) > MASS_G[1] * 1e6
    warned = (
        " Its warnings go by that, and by the model where it is sooner."
        if _s(foretold, "rule_low_s") is not None
        else ""
    )
    if foretold.get("by_rule"):
        warned = " Its warnings go by that."
    rule = f"{RULE}{warned}"
    if _is_off(foretold):
        rule = "It is warned of no later than a right one."
    return f"{said} {rule}{f' {SPREAD}' if large else ''}"


def _is_off(foretold: Mapping[str, Any]) -> bool:
    """Whether it was weighed off its ratio, so that no time of its label is its own."""
    return isinstance(foretold.get("off_ratio"), int | float)


def _said(mark: str, cup: str, foretold: Mapping[str, Any], thick_s: float | None) -> str:
    low_s, high_s = _s(foretold, "low_s"), _s(foretold, "high_s")
    within = f" ({minutes(low_s, high_s)})" if low_s is not None and high_s is not None else ""
    rule = ""
    if low_s is None and _s(foretold, "rule_low_s") is not None:
        within = rule = BY_RULE
    match mark:
        case "half":
            return f"Half of the time of {cup} may be over{within}."
        case "late":
            return f"Four fifths of the time of {cup} may be over{within}: begin nothing new."
        case "over":
            what = "what has thickened does not wet out any more"
            return f"The time of {cup} may be over{within}: {what}."
        case "thick":
            min_ = int((thick_s or 0) // 60)
            wrong = ""
            if is_too_soon(foretold, thick_s or 0.0):
                wrong = f" {WRONG}"
            return f"{cup.capitalize()} is thickening, as you said {min_} min in.{wrong}"
        case "warm":
            what = "spread it, use it, or set it outside on something that does not burn"
            if is_large_and_unknown(foretold):
                return f"{cup.capitalize()} may heat itself, and nothing tells when: {what}."
            return f"{cup.capitalize()} may heat itself from now on{rule}: {what}."
    what = "do not lift it, do not breathe it; ventilate, and keep clear"
    if is_large_and_unknown(foretold):
        rule = ", and nothing tells when"
    return f"{cup.capitalize()} may be hot{rule}: if it is too hot to hold or smokes, {what}."


def unsaid(foretold: Mapping[str, Any]) -> str:
    """For what a room was taken of which nobody said how warm it is; else nothing."""
    air_c = _air_c(foretold)
    if air_c is None or not foretold.get("assumed"):
        return ""
    return f" Nobody said how warm the room is: taken for {air_c:g} degC."


def _room(foretold: Mapping[str, Any]) -> str:
    air_c = _air_c(foretold)
    if air_c is None:
        return ""
    if foretold.get("assumed"):
        return f" in a room taken for {air_c:g} degC, as nobody said how warm it is"
    return f" in air of {air_c:g} degC"


def _air_c(foretold: Mapping[str, Any]) -> float | None:
    air = foretold.get("air")
    try:
        return float(air[-1][1])  # type: ignore[index]
    except (TypeError, ValueError, IndexError, KeyError):
        return None


def _s(foretold: Mapping[str, Any], name: str) -> float | None:
    """Of another program's, anything may stand there."""
    value = foretold.get(name)
    if isinstance(value, int | float) and not isinstance(value, bool) and value >= 0:
        return float(value)
    return None
