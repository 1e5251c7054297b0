"""The jug's own weight before and after: whether what left it is what came into the cup.

Optional, and each jug by itself; where a jug was not weighed twice nothing is said of it. Rules:

1. ``weigh NAME`` comes first, then the jug upon the empty pan; or its mass is typed along. Before
   its component is poured it is the weight before, once that is settled the one after.
2. On the scale of the cup a jug is weighed before the tare or while the batch is stirred, with
   the cup off; typed, at any time until the batch is live.
3. The last weights count. Where more or less left the jug than came into the cup, by more than
   its drips and two weighings explain, it is said and heard, and the batch is unproven.
"""

from __future__ import annotations

from mixer.pour.cup_facts import JugWeight, Weighing
from mixer.pour.draft import Draft
from mixer.pour.inputs import Key
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight, lightest_cup_ug
from mixer.pour.state import Pour
from mixer.pour.words import grams

STANDS_S = 1.0
JUST_MS = 800  # before the word or the weighing: less than a jug has to stand
NEAR_UG = 3_000_000  # what runs down a jug's side, and two weighings (our choice)
NEAR = 0.05  # of what came into the cup, on a scale whose line is not known (our choice)
ON_THE_WAY = "Put the {name}'s jug on the empty scale: it is weighed."


def say(draft: Draft, key: Key) -> None:
    """The word ``weigh``: which jug, and its mass where that was typed."""
    pour = draft.pour
    component = _component(pour, key.text)
    if component is None:
        names = ", ".join(c.name for c in pour.terms.recipe.components)
        draft.refusal = f"Weigh which jug: {names}?"
        return
    settled = pour.poured[component]
    if (
        not settled
        and pour.called is not None
        and pour.begun
        and pour.called.component == component
    ):
        draft.refusal = "It is being poured: weigh its jug once it is in."
    elif key.mass_ug is not None:
        _take(draft, component, key.mass_ug, "typed", "")
    elif pour.terms.typed_division_ug is not None:
        draft.refusal = f"Type its mass along: weigh {_name(pour, component)} 1234.5g."
    elif pour.stage not in ("cup", "stir"):
        draft.refusal = "The cup is on the scale: weigh its jug before the cup, or in the stir."
    else:
        draft.add(Weighing(draft.at_ms, component))
        draft.notice = ON_THE_WAY.format(name=_name(pour, component))


def give_up(draft: Draft) -> None:
    """The jug that was to be weighed is not."""
    draft.add(Weighing(draft.at_ms, None))
    draft.notice = "That jug is not weighed."


def watch(draft: Draft) -> None:
    """Weigh the jug that was put on the pan."""
    pour, sight = draft.pour, draft.sight
    rest = sight.rest if sight.resting else None
    assert pour.weighing is not None
    if rest is None or rest.at_s - rest.since_s < STANDS_S or not is_off(pour, sight):
        return
    if sight.last is None or sight.last.scale_tared:  # it does not show what stands there
        return
    zero_ug = _zero_ug(pour, sight)
    if rest.mass_ug - zero_ug >= lightest_cup_ug(sight.division_ug):
        _take(draft, pour.weighing, rest.mass_ug - zero_ug, "scale", rest.text)


def is_off(pour: Pour, sight: Sight) -> bool:
    """Whether the pan was empty since the last jug was asked for or weighed, if one was."""
    if pour.jug_ms is None:
        return True
    near_ug, zero_ug = lightest_cup_ug(sight.division_ug), _zero_ug(pour, sight)
    rests: tuple[Rest, ...] = sight.rests
    since_ms = pour.jug_ms - JUST_MS
    return any(r.at_s * 1000 >= since_ms and r.mass_ug - zero_ug < near_ug for r in rests)


def doubt(pour: Pour) -> str | None:
    """Why the batch is unproven by the weights of its jugs, or ``None``."""
    for one in pour.jugs_after:
        if is_wrong(one):
            return f"what left the jug of the {_name(pour, one.component)} is not what came in"
    return None


def is_wrong(one: JugWeight) -> bool:
    """Whether more or less left this jug than came into the cup.

    >>> is_wrong(JugWeight(0, 0, 1, "scale", "", True, 44_900_000, 44_100_000))
    False
    >>> is_wrong(JugWeight(0, 1, 1, "scale", "", True, 0, 15_900_000))
    True
    """
    if one.left_ug is None or one.due_ug is None:
        return False
    return abs(one.left_ug - one.due_ug) > max(NEAR_UG, NEAR * one.due_ug)


def told(pour: Pour) -> str:
    """What is said while a jug is waited for, or stands there, before the cup comes."""
    if pour.weighing is None:
        return "Take the jug off; then weigh the next one, or put the empty cup on the scale."
    return ON_THE_WAY.format(name=_name(pour, pour.weighing))


def _take(draft: Draft, component: int, mass_ug: int, weights: str, text: str) -> None:
    pour = draft.pour
    before, after = pour.jugs_before.get(component), pour.poured[component]
    left = due = None
    if after and before is not None and not pour.was_parted:
        left, due = before - mass_ug, pour.amounts_ug[component]
    known = "scale" if weights == "scale" else "typed"
    one = JugWeight(draft.at_ms, component, mass_ug, known, text, after, left, due)  # type: ignore[arg-type]
    draft.add(one)
    name, step = _name(pour, component).capitalize(), draft.sight.division_ug or 100_000
    if left is None or due is None:
        why = "" if not after else "; its weight before is not known, or a part was taken out"
        draft.notice = f"{name}'s jug: {grams(mass_ug, step)}{why}."
    elif is_wrong(one):
        draft.alarm = True
        draft.notice = (
            f"Wrong jug? {grams(left, step)} left the {name.lower()}'s, and {grams(due, step)} of "
            "it should be in the cup."
        )
    elif due < 2 * NEAR_UG:
        draft.notice = f"{name}: {grams(due, step)} is too little to tell its jug by."
    else:
        draft.notice = f"{name}'s jug is right: {grams(left, step)} left it."


def _component(pour: Pour, text: str) -> int | None:
    """By its name, or how it begins, where that is one alone."""
    said = text.strip().lower()
    names = [c.name.lower() for c in pour.terms.recipe.components]
    if said in names:
        return names.index(said)
    found = [i for i, name in enumerate(names) if said and name.startswith(said)]
    return found[0] if len(found) == 1 else None


def _zero_ug(pour: Pour, sight: Sight) -> int:
    zero = pour.tared.zero_ug if pour.tared else sight.pan_zero_ug
    return zero or 0


def _name(pour: Pour, component: int) -> str:
    return pour.terms.recipe.components[component].name
