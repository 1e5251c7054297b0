"""What the builder is told to do now: the cue, and one sentence.

A cue looks ahead: what is shown is late (the scale's filters, the stream in the air)
and the hand is later, so `ease` and `stop` come before the figure is reached. The
memory here is volatile: how the present approach to the target is going.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, NamedTuple

from mixer.pour import (
    approach,
    jug_weights,
    little,
    over,
    pauses,
    put_right,
    standstill,
    stirred,
    taught,
    unasked,
    words,
)
from mixer.pour.approach import Habits, Stopped
from mixer.pour.facts import Called
from mixer.pour.little import Little
from mixer.pour.more_cup import is_more
from mixer.pour.put_down import delay_s
from mixer.pour.sight import Sight
from mixer.pour.standing import (
    answer_to_over,
    drip_s,
    drips_first_s,
    enough,
    is_nearest,
    is_restless,
    no_step,
    settled,
    stands_since_told,
    waited_s,
    without_room,
)
from mixer.pour.state import Pour
from mixer.pour.taught import Learning
from mixer.pour.words import HELD, NO_STEP, RESTLESS, Advice, grams

Phase = Literal["look", "pour", "ease", "stop"]

RESIN_ROOM = 1.1  # of its target must fit, or its target is aimed at
RESIN_AIM = 1.01  # of its target: the hardener follows what is there, a top-up takes time
PULSE_LEFT_UG = 2_500_000  # below this the display answers too late: pour for a time
TOP_UP_AFTER_S = 3.0
CHANGING_S = 8.0  # a jug that was called may not be open yet (our choice)
FLICKER_S = 2.0
MISSED = 6  # short cues in a row (our choice)
STEADY = 3  # divisions: so much more than at the last look is no flicker
EDGE_S = 3.0  # by then a weight that flickers at the edge has been within it
SLOWLY = "Slowly, by the figure"
WAITING = ("wait", "stop", "in-band")
LATE_S = 0.25  # so far apart the coach is asked at four readings a second; more is a gap


class Coach(NamedTuple):
    """Where this approach stands: its phase, since when, for which call of which component;
    how many gentle top-ups had no effect; the net that was last looked at, and when it was last
    seen (it is not looked at anew for the flicker of a last digit, unless that stays); when
    the coach was last asked; whether a gentle stream began ``from_rest``; the ``little`` that is
    poured by the figure; the ``habits`` of this builder, how the stream last stood when it was
    stopped, and what was and is learned."""

    phase: Phase = "look"
    since_s: float = 0.0
    from_ug: int = 0
    call_ms: int = -1
    component: int = -1
    fruitless: int = 0
    looked_ug: int | None = None
    looked_s: float = 0.0
    asked_s: float = 0.0
    from_rest: bool = False
    little: Little = Little()
    habits: Habits = Habits()
    stopped: Stopped | None = None
    learning: Learning = Learning()


def advise(pour: Pour, sight: Sight, coach: Coach, now_s: float) -> tuple[Coach, Advice]:
    """The cue for this moment, and the coach's memory after it."""
    coach, advice = _advise(pour, sight, coach, now_s)
    coach = coach._replace(asked_s=now_s)
    if advice.cue in WAITING and is_restless(pour, sight, now_s):
        advice = replace(advice, say=RESTLESS)
    if pause := pauses.told(pour, sight, now_s):
        advice = replace(advice, say=advice.say + pause)
    return coach, advice


def _advise(pour: Pour, sight: Sight, coach: Coach, now_s: float) -> tuple[Coach, Advice]:
    if pour.stage == "ended":
        return coach, Advice("wait", "The batch has ended.")
    if pour.parting is not None:  # what is left tells nothing of what came
        coach = coach._replace(stopped=None)
    if pour.parting is not None and not pour.held_by_hand and standstill.taking_out(pour, sight):
        return coach, standstill.parted(pour, sight, now_s)
    if pour.trouble is not None or pour.held_by_hand:
        coach = _interrupted(coach)
    if pour.trouble is not None:
        cue, say = put_right.told(pour, sight, now_s)
        closed = standstill.closed(sight)
        return coach, Advice(cue if closed == "wait" else closed, say)
    if pour.held_by_hand:
        return coach, Advice(standstill.closed(sight), HELD["by-hand"])
    match pour.stage:
        case "cup":
            return coach, standstill.cup(pour, sight, now_s)
        case "stir":
            coach = _learned(pour, coach)
            left = pour.stir_ms / 1000 - (now_s - (pour.stir_from_ms or 0) / 1000)
            jug = f" {jug_weights.told(pour)}" if pour.weighing is not None else ""
            say = "Stir; scrape the sides and the bottom." + jug
            say += stirred.told(pour, sight) + standstill.doubt(pour)
            return coach, Advice("stir", say, max(0.0, left))
        case "live":
            return coach, Advice("go", standstill.live(pour))
    if is_more(pour, sight, now_s):
        return coach, Advice("wait", words.MORE_CUP)
    coach, advice = _pour(pour, sight, coach, now_s)
    beside = unasked.told(pour, sight) + standstill.doubt(pour)
    return coach, replace(advice, say=advice.say + beside) if beside else advice


def _pour(pour: Pour, sight: Sight, coach: Coach, now_s: float) -> tuple[Coach, Advice]:
    called = pour.called
    if called is None or sight.last is None:
        return coach, Advice("wait", "Wait.")
    if coach.call_ms != called.at_ms:
        coach = _called(pour, sight, coach, called, now_s)
    net = pour.shown_net_ug(sight.last.mass_ug + pour.shift_ug)
    rest = settled(pour, sight, now_s) if sight.resting or coach.phase == "look" else None
    moved = pour.begun or net > called.before_ug + sight.division_ug
    if not moved and without_room(pour, called.before_ug) is not None:
        coach = coach._replace(phase="look")  # it was told since, of heat
    # Once something was poured, the approach ends at a rest, and is then looked at.
    done = coach.phase == "stop" or (coach.phase in ("pour", "ease") and moved)
    since_s = approach.DRIPS_FROM_S + coach.habits.lead_s
    if coach.phase == "stop" and rest is not None and now_s - coach.since_s > 1.0:
        gained = pour.shown_net_ug(rest.mass_ug + pour.shift_ug) - coach.from_ug
        none = gained <= sight.division_ug
        changing = not pour.begun and coach.since_s < called.at_ms / 1000 + CHANGING_S
        fruitless = coach.fruitless + (not changing) if none else 0
        if not none or now_s - coach.since_s > since_s:  # a slow display shows it only then
            coach = coach._replace(
                phase="look", since_s=now_s, from_ug=0, fruitless=fruitless, looked_ug=None,
                looked_s=0.0, stopped=None if none else coach.stopped,
            )  # fmt: skip
    elif done and rest is not None and rest.since_s > coach.since_s and enough(pour, net):
        coach = coach._replace(phase="look", since_s=now_s)
    stopped = coach.stopped
    if stopped and stopped.later_ug is None and now_s >= stopped.at_s + since_s:
        coach = coach._replace(stopped=_only_drips(pour, sight, coach, stopped))
    if coach.phase == "look":
        now = sight.middle_ug if rest is None else rest.mass_ug
        seen = pour.shown_net_ug(now + pour.shift_ug)
        if _look_anew(pour, sight, coach, seen, now_s):
            coach = coach._replace(looked_ug=seen, looked_s=now_s)
        elif seen == coach.looked_ug:
            coach = coach._replace(looked_s=now_s)
        return _look(pour, sight, coach, now_s)
    coach = _approach(pour, sight, coach, now_s, net)
    return coach, Advice(_cue(coach), _to_go(pour, sight, net, coach))


def _look_anew(pour: Pour, sight: Sight, coach: Coach, seen_ug: int, now_s: float) -> bool:
    """Not for the flicker of a last digit; nor hands free, where what was in band is about
    to be taken, at the edge of the band: each jug that is called for makes it wait anew."""
    if coach.looked_ug is None or abs(seen_ug - coach.looked_ug) > sight.division_ug:
        return True
    if pour.terms.hands_free and enough(pour, coach.looked_ug) and seen_ug < coach.looked_ug:
        return waited_s(pour, sight, now_s) > drip_s(pour) + EDGE_S
    return seen_ug != coach.looked_ug and now_s - coach.looked_s > FLICKER_S


def _look(pour: Pour, sight: Sight, coach: Coach, now_s: float) -> tuple[Coach, Advice]:
    """Nothing is being poured: is it in band, over, or is there more to pour?"""
    called, net = pour.called, coach.looked_ug
    assert called is not None
    assert net is not None
    waited = waited_s(pour, sight, now_s)
    name = pour.terms.recipe.components[called.component].name
    if (first_s := drips_first_s(pour, round(now_s * 1000))) > 0:
        before = pour.terms.recipe.components[pour.last_accepted or 0].name
        return coach, Advice("wait", words.drips_first(before, name), first_s)
    if net > called.high_ug or without_room(pour, net) is not None:
        return coach, Advice("over", over.told(pour, sight, net))
    if enough(pour, net):
        stands = "in band" if not is_nearest(pour, net) else f"as near as it can be:{NO_STEP}"
        left = drip_s(pour) - waited
        seen = settled(pour, sight, now_s)
        may_go = seen is not None and stands_since_told(sight, seen)
        if left <= 0 and not pour.terms.hands_free and may_go:
            then = "next jug" if answer_to_over(pour, net) else "stir"
            say = f"{name.capitalize()} is {stands}. Go on to the {then}.{_much(pour, sight, net)}"
            return coach, Advice("next", say)
        say = f"{name.capitalize()} is {stands}. Let the jug drip out.{_much(pour, sight, net)}"
        return coach, Advice("in-band", say, max(0.0, left))
    band_ug = called.high_ug - max(called.low_ug, called.before_ug)
    free = called.component == 0 and not called.addition
    missed = coach.fruitless >= MISSED  # then no cue is short any more
    fine = not (free or missed) and little.is_little(called.target_ug - net, band_ug)
    wet = fine and little.is_wet(coach.habits, band_ug)
    short = called.low_ug - net < coach.habits.drip_ug  # its drips may be all that is wanted
    if pour.begun and waited < (
        drip_s(pour) if short or wet else min(TOP_UP_AFTER_S, drip_s(pour))
    ):
        return coach, Advice("wait", "Wait for the weight to settle.")
    if pour.begun and waited >= drip_s(pour):
        coach = _after(coach, net, dripped=True)
    coach = coach._replace(stopped=None)
    wanted = _aim(pour, coach._replace(from_ug=net)) - net
    plenty = approach.pours_at_first(
        coach.habits, wanted, approach.steady_s(sight.usual_s), free=free
    )
    more: Phase = "pour" if plenty or fine or missed else "ease"
    coach = coach._replace(phase=more, since_s=now_s, from_ug=net, looked_ug=None)
    coach = coach._replace(from_rest=more == "ease", little=_little(pour, sight, coach, fine=fine))
    return coach, Advice(_cue(coach), _to_go(pour, sight, net, coach))


def _approach(pour: Pour, sight: Sight, coach: Coach, now_s: float, net: int) -> Coach:
    called = pour.called
    assert called is not None
    if coach.phase == "stop":
        return coach
    aim, lasted = _aim(pour, coach), now_s - coach.since_s
    eased = lasted if coach.phase == "ease" else None
    long_s = approach.steady_s(sight.usual_s)
    mass, flow = approach.line(sight.recent, approach.span_s(coach.habits, eased, long_s))
    # After cues that were missed, a last digit that flickers is no stream yet.
    seen = (
        not coach.fruitless or sight.streaming or net > coach.from_ug + STEADY * sight.division_ug
    )
    flow = max(0.0, flow) if seen else 0.0
    assert sight.last is not None
    if eased is not None and coach.from_rest:
        flow /= approach.shown_part(coach.habits, coach.learning.delay_s, eased, long_s)
    left = aim - net - (mass - sight.last.mass_ug)
    if (habits := approach.seen(coach.habits, flow)) != coach.habits:
        coach = coach._replace(habits=habits)
    every_s = min(LATE_S, max(0.0, now_s - coach.asked_s))
    if coach.little.on:
        limits = (there - coach.little.from_ug for there in (called.low_ug, called.high_ug))
        longer = 1.5 ** max(0, coach.fruitless - 1)
        cue_s = little.cue_s(coach.little, coach.habits, *limits) * longer
        strong = flow > approach.NOT_SO_GENTLE_UG_S  # of a hand that does not go by the figure
        too_much = strong and approach.must_stop(coach.habits, flow, left, eased)
        enough_s = too_much or lasted + every_s / 2 >= cue_s
    elif coach.phase == "ease" and aim - coach.from_ug <= _pulsed_ug(coach):
        to_go = (there - coach.from_ug for there in (aim, called.low_ug, called.high_ug))
        longer = 1.5 ** max(0, coach.fruitless - 1)  # the first may have been a late reaction
        enough_s = lasted >= approach.pulse_s(coach.habits, *to_go) * longer
    else:
        left -= flow * max(0.0, now_s - sight.last.at_s)  # a slow scale is late with its next
        enough_s = approach.must_stop(coach.habits, flow, left - flow * every_s / 2, eased)
    if enough_s or net >= called.target_ug:
        if coach.little.on:
            coach = coach._replace(little=coach.little._replace(lasted_s=lasted))
        return _stop(coach, aim - left, flow, now_s, long_s)
    ease = approach.must_ease(coach.habits, flow, left, long_s)
    if coach.phase == "pour" and not coach.little.on and (ease or (coach.fruitless and flow > 0)):
        return coach._replace(phase="ease", since_s=now_s, from_rest=False)
    return coach


def _cue(coach: Coach) -> str:
    return "trickle" if coach.little.on and coach.phase == "pour" else coach.phase


def _interrupted(coach: Coach) -> Coach:
    """What was poured by the figure until something happened tells nothing of a cue's length: it
    is looked at anew, once it rests."""
    if not coach.little.on or coach.phase not in ("pour", "stop"):
        return coach
    told = coach.little._replace(on=False, lasted_s=0.0)
    return coach._replace(phase="look", little=told, looked_ug=None, stopped=None)


def _pulsed_ug(coach: Coach) -> float:
    """So little is poured for a time: the display answers too late."""
    return max(PULSE_LEFT_UG, 1.5 * coach.habits.drip_ug)


def _little(pour: Pour, sight: Sight, coach: Coach, *, fine: bool) -> Little:
    """What is asked for by the figure now: by the middle of what was shown last, as a single
    figure of a scale that repeats badly is off by a good part of such a band."""
    called = pour.called
    assert called is not None
    if not fine:
        return Little()
    net = pour.shown_net_ug(round(approach.middle_ug(sight.recent)) + pour.shift_ug)
    left_ug = max(0, called.target_ug - net)
    return little.begun(coach.little, coach.habits, net, left_ug, sight.division_ug)


def _only_drips(pour: Pour, sight: Sight, coach: Coach, stopped: Stopped) -> Stopped:
    """With what lies there now that only drips are left to come; but a slow display still has
    some of the stream to show, and one reading is not a weight. A little that was just poured
    is of this jug, and not drips of the one before as a face shows it."""
    assert sight.last is not None
    delay_s = coach.learning.delay_s
    ended_s = coach.habits.lead_s - (approach.DISPLAY_S if delay_s is None else delay_s)
    unshown_s = approach.unshown_s(delay_s, sight.last.at_s - stopped.at_s - ended_s)
    shown_ug, _ = approach.line(sight.recent, approach.SHORT_S)
    net_ug = pour.net_ug(round(shown_ug) + pour.shift_ug)
    return replace(stopped, later_ug=round(net_ug + stopped.flow_ug_s * unshown_s))


def _stop(coach: Coach, net: float, flow: float, now_s: float, long_s: float) -> Coach:
    steady = now_s - coach.since_s > coach.habits.ease_lead_s + long_s
    return coach._replace(phase="stop", since_s=now_s, stopped=Stopped(now_s, net, flow, steady))


def _called(pour: Pour, sight: Sight, coach: Coach, called: Called, now_s: float) -> Coach:
    """The coach for this call, with what the component before taught, now settled.

    Called once more for what the jug before had dripped, the same stream runs on.
    """
    if called.component == coach.component and coach.phase in ("pour", "ease"):
        return coach._replace(call_ms=called.at_ms, from_ug=called.before_ug)
    if coach.component < 0 and pour.tared is not None:  # the first call
        delay = delay_s(sight.rise, pour.tared.tare_ug)
        learning, habits = taught.begins(coach.learning, delay)
        coach = coach._replace(learning=learning, habits=habits)
    learning = (coach := _learned(pour, coach)).learning
    habits = taught.calls(learning, coach.habits, called.component)
    return Coach(
        "look", now_s, 0, called.at_ms, called.component,
        asked_s=coach.asked_s, habits=habits, learning=learning,
    )  # fmt: skip


def _learned(pour: Pour, coach: Coach) -> Coach:
    """After the component that was poured last was settled."""
    stopped, place = coach.stopped, coach.component
    if stopped is None or (pour.last_accepted != place and pour.stage != "stir"):
        return coach
    settled_ms = pour.called.at_ms if pour.called else pour.stir_from_ms or 0
    dripped = settled_ms / 1000 - stopped.at_s >= pour.terms.recipe.components[place].drip_s
    return _after(coach, pour.amounts_ug[place], dripped)


def _after(coach: Coach, net_ug: int, dripped: bool) -> Coach:
    learning, habits = taught.learn(
        coach.learning, coach.habits, coach.stopped, coach.component, net_ug, dripped
    )
    return coach._replace(learning=learning, habits=habits, stopped=None)


def _aim(pour: Pour, coach: Coach) -> int:
    """Where `stop` aims: below the target by what will still drip, or as far as is safe."""
    called = pour.called
    assert called is not None
    if called.component == 0 and not called.addition:
        roomy = called.high_ug >= RESIN_ROOM * called.target_ug
        return round(RESIN_AIM * called.target_ug) if roomy else called.target_ug
    low, high, target = max(called.low_ug, called.before_ug), called.high_ug, called.target_ug
    is_all = target - coach.from_ug <= little.MOST_LEFT_UG
    if little.is_narrow(high - low) and not is_all:
        return target - little.to_leave_ug(coach.habits, high - low)
    # Below the target, as one too much is worse: where the shortest top-up, from just below the
    # band, will not go beyond it.
    room = high - low - approach.shortest_ug(coach.habits)
    return round(target - min(max(0.0, room), max(0, target - low) / 2))


def _much(pour: Pour, sight: Sight, net: int) -> str:
    """Said of a first component of which there is more than its heat allows: how much to mix is
    the builder's to choose, and a slip is not."""
    called, most_ug = pour.called, pour.heat_most_ug
    assert called is not None
    makes_ug = net / pour.terms.recipe.share(0)
    if called.component or called.addition or most_ug is None or makes_ug <= most_ug:
        return ""
    makes, most = (grams(round(ug), sight.division_ug) for ug in (makes_ug, most_ug))
    return f" With its hardener that makes {makes}, and more than {most} may run hot or not last."


def _to_go(pour: Pour, sight: Sight, net: int, coach: Coach) -> str:
    called = pour.called
    assert called is not None
    name = pour.terms.recipe.components[called.component].name
    if coach.phase == "stop":
        return "Tip the jug back."
    left_ug, step = max(0, called.target_ug - net), sight.division_ug
    if net < called.low_ug:  # never told as nothing
        left_ug = max(left_ug, step)
    none = f";{NO_STEP}, and it stays unproven" if no_step(pour) else ""
    left, most = grams(left_ug, step), over.at_most(pour, net, step) + none
    if called.addition:
        least_ug = words.up(max(0, called.low_ug - net), step)
        at_least = f", {grams(least_ug, step)} at the least" if 0 < least_ug < left_ug else ""
        then = over.then(pour.cup, called.component, called.target_ug, step)
        add = f"{SLOWLY}, add" if coach.little.on else "Add"
        return f"{add} {left} of {name}{at_least}{most}{then}: it brings the ratio back."
    full = SLOWLY if _cue(coach) == "trickle" else "Pour"
    return f"{full if coach.phase == 'pour' else 'Gently'}: {left} of {name} to go{most}."
