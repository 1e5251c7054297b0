"""What the builder is told at a scale with no cable: the cue, and one sentence.

Pure, and without memory: nothing is seen here between two figures. Every figure told is a
total as that scale shows it, with its limits.
"""

from __future__ import annotations

from mixer.pour import jugs, parting
from mixer.pour.over import HOLD, NO_ROOM, lacks, ways_out
from mixer.pour.shows import (
    Ask,
    Entry,
    ask_of,
    division_ug,
    is_far,
    is_resin_alone,
    is_stuck,
    known_ug,
)
from mixer.pour.standing import answer_to_over, is_nearest
from mixer.pour.state import Pour
from mixer.pour.words import HELD, NO_STEP, Advice, grams

SAY_IT = "Type first what the scale shows, then go on."
STIR_ON = "Stir on until the time is up."
IF_SO = "If it does show that, go once more"


def advise(pour: Pour, entry: Entry, now_s: float) -> Advice:
    """The cue and the sentence for this moment."""
    if pour.held_by_hand:
        return Advice("wait", HELD["by-hand"])
    match pour.stage:
        case "live":
            why = pour.result.unproven_because if pour.result else None
            return Advice("go", f"The cup is live, but not shown to be right: {why}.")
        case "ended":
            return Advice("wait", "The batch has ended.")
        case "stir":
            left = pour.stir_ms / 1000 - (now_s - (pour.stir_from_ms or 0) / 1000)
            return Advice("stir", "Stir; scrape the sides and the bottom.", max(0.0, left))
    ask = ask_of(pour, now_s)
    if pour.parting is not None and ask is None:
        left = parting.left_s(pour, now_s)
        say = "Stir it thoroughly: each part must have one ratio. Scrape the sides and the bottom."
        return Advice("stir", say, max(0.0, left))
    if entry.wrong:
        return Advice("wait", entry.wrong)
    if pour.stage == "cup" or ask is None:
        return _cup(pour, entry)
    if pour.parting is not None:
        return _part(pour, entry, ask)
    return _asked(pour, ask) if entry.gross_ug is None else _said(pour, entry, ask)


def _cup(pour: Pour, entry: Entry) -> Advice:
    if entry.gross_ug:
        cup = grams(entry.gross_ug, division_ug(pour))
        return Advice("next", f"The empty cup is taken for {cup}. Go on, and do not zero it now.")
    return Advice(
        "place", "Put the empty cup on the scale, zero it there, and go on; or type what it shows."
    )


def _part(pour: Pour, entry: Entry, ask: Ask) -> Advice:
    step = division_ug(pour)
    if entry.gross_ug is not None and entry.gross_ug <= ask.high_ug:
        return Advice("next", "There is room now. Go on to put it right.")
    out = grams(known_ug(pour) - ask.high_ug, step)
    return Advice(
        "part",
        f"Take {out} out and lay it aside as waste, until the scale shows "
        f"{grams(ask.high_ug, step)} or less; then type what it shows.",
    )


def _asked(pour: Pour, ask: Ask) -> Advice:
    called, step = pour.called, division_ug(pour)
    assert called is not None
    if is_stuck(pour, called.before_ug):
        return Advice("over", _way_out(pour, called.before_ug, called.base_ug))
    name = pour.terms.recipe.components[called.component].name
    total = grams(ask.target_ug, step)
    if ask.low_ug > ask.high_ug:
        limits = f" ({NO_STEP.strip()}: what is nearest will do)"
    elif called.component == 0 and not called.addition:
        limits = ""
    else:
        limits = f" ({_limits(ask, step)})"
    do, why = ("Add", ", to bring the ratio back") if called.addition else ("Pour", "")
    then = (
        "Go on when it does; or type what it shows."
        if ask.as_asked
        else "Let the jug drip out, and type what it shows."
    )
    then += jugs.reminder(pour)
    return Advice("pour", f"{do} {name} until the scale shows {total}{limits}{why}. {then}")


def _said(pour: Pour, entry: Entry, ask: Ask) -> Advice:
    called, step, gross = pour.called, division_ug(pour), entry.gross_ug
    assert called is not None
    assert gross is not None
    net, said = pour.net_ug(gross), grams(gross, step)
    if called.low_ug <= net <= called.high_ug or is_nearest(pour, net):
        far = is_far(pour, net) and not entry.asked
        return Advice("next", not_in_band(pour, ask, gross) if far else f"{said} is taken: go on.")
    if net < called.low_ug and ask.low_ug <= ask.high_ug:
        return Advice("pour", f"{said}: pour on, until it shows {grams(ask.target_ug, step)}.")
    return Advice("over" if net > called.high_ug else "wait", not_in_band(pour, ask, gross))


def not_in_band(pour: Pour, ask: Ask, gross_ug: int) -> str:
    """That this total is not what was asked for, what is accepted, and the way out."""
    step, called = division_ug(pour), pour.called
    assert called is not None
    net, said = pour.net_ug(gross_ug), grams(gross_ug, step)
    if called.low_ug <= net <= called.high_ug or is_nearest(pour, net):
        return f"{said} is far from the {grams(ask.target_ug, step)} asked for. {IF_SO}."
    if net > called.high_ug and is_resin_alone(pour):
        return (
            f"{said} is more resin than {HOLD} can take with its hardener: take some out, until it "
            f"shows {grams(ask.high_ug, step)} or less."
        )
    limits = f"Not in band: {said}; accepted is {_limits(ask, step)}."
    if ask.low_ug > ask.high_ug:
        limits = f"Not in band: {said}, and no step of this scale is: the nearest will do."
    return limits if net < called.low_ug else f"{limits} {_way_out(pour, net, gross_ug)}"


def _limits(ask: Ask, step: int) -> str:
    return f"{grams(ask.low_ug, step).removesuffix(' g')} to {grams(ask.high_ug, step)}"


def _way_out(pour: Pour, net_ug: int, gross_ug: int) -> str:
    """What is to be done about what is over."""
    step, answer = division_ug(pour), answer_to_over(pour, net_ug)
    if answer is None:
        return f"{IF_SO}."
    if not is_stuck(pour, net_ug):
        name = pour.terms.recipe.components[answer.component].name
        total = grams(gross_ug + answer.target_ug - answer.before_ug, step)
        return f"{IF_SO}: then add {name} until it shows {total}."
    short = lacks(pour, answer, net_ug)
    there = f"There is {short}" if short == NO_ROOM else f"{short[0].upper()}{short[1:]}"
    return f"{there}: {ways_out(pour, net_ug, step).removeprefix('let it drip out and ')}"
