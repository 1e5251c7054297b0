"""What each input makes true.

``decide(pour, sight, happened)`` looks at the durable state and at what has been
seen, and answers with facts and, where a word of the builder's is refused, a
sentence. It reads no clock and keeps nothing. Here stand the builder's words and the
stages; the pouring itself is in :mod:`mixer.pour.turns`, the trust in a weight in
:mod:`mixer.pour.trust`. ``go`` is refused while out of band; from a hold it only
resumes.
"""

from __future__ import annotations

from mixer.pour import (
    bands,
    cups,
    jug_weights,
    jugs,
    losses,
    more_cup,
    parting,
    pauses,
    stirred,
    trust,
    turns,
    unasked,
    was,
)
from mixer.pour.decision import Decision
from mixer.pour.draft import Draft
from mixer.pour.facts import Accepted, Doubted, Ended, Held, Live, Noted, Resumed, Tared
from mixer.pour.inputs import Cut, Input, Key, Tick, Weighed
from mixer.pour.put_right import is_off
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight, below_zero, lightest_cup_ug
from mixer.pour.standing import (
    is_accepted,
    may_be_coarser,
    settled,
    stands_since_told,
    without_room,
)
from mixer.pour.state import BY_HAND, Pour
from mixer.pour.vocabulary import KNOWN
from mixer.pour.words import (
    CUP_IS_OFF,
    DRIPS_YET,
    HELD,
    JUST_TOLD,
    LESS_THAN_NOTHING,
    MAY_BE_COARSER,
    grams,
    too_heavy,
)

__all__ = ["Decision", "decide", "note_or_hold"]

TARE_REST_S = 1.0


def decide(pour: Pour, sight: Sight, happened: Input, double_press: bool = False) -> Decision:
    """Facts and refusals of one input. ``sight`` has already seen it."""
    draft = Draft(pour, sight, happened.at_s)
    if pour.stage in ("split", "live", "ended"):  # split: see mixer.pour.sharing
        return Decision()
    if isinstance(happened, Cut):
        _end(draft, happened.how)
    elif isinstance(happened, Key):
        if not (double_press and happened.word == "go"):
            _key(draft, happened)
    else:
        _follow(draft, happened)
    return Decision(tuple(draft.facts), draft.refusal, draft.notice, draft.alarm)


def _key(draft: Draft, key: Key) -> None:
    pour = draft.pour
    match key.word:
        case "note" | "hold":
            note_or_hold(draft, key, draft.gross_ug())
        case "drop":
            _end(draft, "dropped")
        case "go":
            _go(draft)
        case "split" | "moved" | "filler":
            cups.announce(draft, key)
        case "weigh":
            jug_weights.say(draft, key)
        case "was":
            was.say(draft, key.text)
        case "use":
            _use(draft)
        case "part":
            _part(draft)
        case "jug":
            rest = settled(pour, draft.sight, draft.at_s)
            jugs.read(draft, key.text, None if rest is None else rest.mass_ug + pour.shift_ug)
        case _:
            draft.refusal = f"{key.word[:20]!r} is no word here: {KNOWN}."


def note_or_hold(draft: Draft, key: Key, gross_ug: int | None) -> None:
    """The words that are the same at every scale; ``gross_ug``: the last weight known."""
    if key.word == "note":
        draft.add(Noted(draft.at_ms, key.text))
    elif draft.pour.stage == "stir":
        draft.refusal = "The stir runs on: there is nothing to hold."
    elif not draft.pour.held_by_hand:
        draft.add(Held(draft.at_ms, BY_HAND, gross_ug, HELD[BY_HAND]))


def _go(draft: Draft) -> None:
    pour, now = draft.pour, draft.at_s
    if pour.held_by_hand:
        draft.add(Resumed(draft.at_ms, BY_HAND, "by-hand", 0))
        return
    if pour.trouble:
        rest = draft.sight.recent_rest(now)
        trouble = trust.trouble_now(pour, draft.sight, now)
        if trouble or rest is None or rest.at_s * 1000 < pour.trouble.at_ms:
            draft.refusal = HELD[pour.trouble.reason]
        elif draft.sight.last is not None and below_zero(draft.sight.last):
            draft.refusal = LESS_THAN_NOTHING
        elif is_off(pour, draft.sight):
            draft.refusal = CUP_IS_OFF
        else:
            trust.go_on_trust(draft, rest)
            turns.came_unseen(draft, pour.trouble)
        return
    if pour.weighing is not None:
        jug_weights.give_up(draft)
    elif pour.stage == "cup":
        rest = draft.sight.recent_rest(now)
        if rest is None or not _is_cup(draft, rest):
            draft.refusal = "No cup is at rest on the scale yet."
        elif bands.too_heavy(pour.terms, rest.mass_ug):
            draft.refusal = too_heavy(pour.terms.size_ug, draft.sight.division_ug)
        else:
            _tare(draft, rest)
    elif pour.stage == "stir":
        draft.refusal = "Stir on until the time is up."
    elif pour.parting is not None:
        parting.go(draft)
    else:
        _go_next(draft)


def _go_next(draft: Draft) -> None:
    pour = draft.pour
    called = pour.called
    rest = settled(pour, draft.sight, draft.at_s)
    assert called is not None
    if rest is None:
        draft.refusal = "The weight has not come to rest yet: wait."
        return
    net = pour.net_ug(rest.mass_ug + pour.shift_ug)
    if is_accepted(pour, net):
        if not stands_since_told(draft.sight, rest):
            draft.refusal = JUST_TOLD
        elif turns.may_drip_out_of_band(draft, net):
            draft.refusal = DRIPS_YET
        else:
            turns.accept(draft, rest, late_drips=False)
        return
    name = pour.terms.recipe.components[called.component].name
    step = draft.sight.division_ug
    draft.refusal = (
        f"Not in band: {grams(net, step)} of {name}; accepted is "
        f"{grams(called.low_ug, step)} to {grams(called.high_ug, step)}."
    )


def _use(draft: Draft) -> None:
    """Stir what is out of band, and use it: only the builder can say so."""
    pour = draft.pour
    rest = None if pour.held_by_hand else settled(pour, draft.sight, draft.at_s)
    called = pour.called
    if pour.stage == "stir":
        draft.refusal = "It is being stirred already."
    elif pour.parting is not None and rest is not None:
        if parting.there(pour, draft.sight, draft.at_s) is None:
            draft.refusal = HELD["lifted"]
        else:
            parting.use(draft, rest)
    elif not _may_be_used(pour, rest):
        draft.refusal = "There is no hardener in the cup: nothing here is a batch yet."
    elif rest is None or called is None:
        draft.refusal = "The weight has not come to rest yet: wait."
    elif called.low_ug <= pour.net_ug(rest.mass_ug + pour.shift_ug) <= called.high_ug:
        draft.refusal = "It is in band: go on with go."
    else:
        turns.keep(draft, rest)


def _may_be_used(pour: Pour, rest: Rest | None) -> bool:
    """Whether it is a batch, or no room keeps it from becoming one: then it goes on."""
    called = pour.called
    stuck = rest and called and without_room(pour, pour.net_ug(rest.mass_ug + pour.shift_ug))
    if called is None or stuck is not None:
        return called is not None
    return (pour.begun or called.addition) and pour.contact_ms is not None


def _part(draft: Draft) -> None:
    if draft.pour.stage == "stir":
        draft.refusal = "It is being stirred already."
    else:
        parting.begin(draft)


def _follow(draft: Draft, happened: Input) -> None:
    pour = draft.pour
    if pour.weighing is not None and pour.stage in ("cup", "stir"):
        jug_weights.watch(draft)
    if pour.stage == "stir":
        assert pour.stir_from_ms is not None
        stirred.watch(draft)
        if isinstance(happened, Tick) and draft.at_ms - pour.stir_from_ms >= pour.stir_ms:
            _live(draft, happened.free_cup)
        return
    if pour.stage == "cup":
        if pour.weighing is not None:
            return
        rest = draft.sight.rest if draft.sight.resting else None
        waited = rest is not None and rest.at_s - rest.since_s >= TARE_REST_S
        ready = waited and not pour.held_by_hand and _pan_was_seen(draft)
        light = rest is not None and not bands.too_heavy(pour.terms, rest.mass_ug)
        if rest is not None and ready and light and _is_cup(draft, rest):
            _tare(draft, rest)
        return
    pauses.watch(draft)
    if more_cup.go_on(draft):
        return
    trust.watch(draft)
    if pour.parting is not None:
        if draft.pour.trouble is None and not pour.held_by_hand:
            parting.watch(draft)
        return  # nothing is poured, and what is taken out is taken out on purpose
    if pour.trouble is not None and draft.pour.trouble is None:
        counted_ug = trust.not_yet_counted(draft, pour.trouble)
        leant_on = trust.was_leant_on(draft, pour.trouble)
        if draft.pour.shift_ug == pour.shift_ug and not leant_on:  # else nothing is known of before
            losses.came_back(draft, pour.trouble, counted_ug)
        turns.came_unseen(draft, pour.trouble)
        losses.brought(draft, pour.trouble, counted_ug)
    if draft.pour.trouble is not None or more_cup.notice(draft):
        return
    if draft.pour.held_by_hand:
        turns.notice_stream(draft)
        return
    losses.notice(draft)
    if isinstance(happened, Weighed):
        unasked.notice(draft)
    turns.advance(draft)


def _is_cup(draft: Draft, rest: Rest) -> bool:
    zero = draft.sight.pan_zero_ug or 0
    heavy = rest.mass_ug - zero >= lightest_cup_ug(draft.sight.division_ug)
    return heavy and jug_weights.is_off(draft.pour, draft.sight)


def _pan_was_seen(draft: Draft) -> bool:
    """What lay there from the start may be a cup that has something in it."""
    return draft.sight.pan_zero_ug is not None


def _tare(draft: Draft, rest: Rest) -> None:
    last = draft.sight.last
    assert last is not None
    draft.add(
        Tared(
            draft.at_ms, rest.mass_ug, draft.sight.pan_zero_ug, last.division_ug, last.unit,
            last.scale_tared, rest.text,
        )
    )  # fmt: skip
    turns.call_for(draft, bands.first_call(draft.pour.cup), rest.mass_ug, late_drips=False)


def _verdict(pour: Pour, sight: Sight) -> tuple[str, str | None]:
    if pour.tared is None:
        return "unproven", "no cup was weighed"
    if pour.unproven_because is not None:
        return "unproven", pour.unproven_because
    if not any(pour.amounts_ug):
        return "unproven", "nothing was poured"
    if why := jug_weights.doubt(pour):
        return "unproven", why
    in_band, provable = bands.conforms(pour.cup)
    if not in_band:
        return "out-of-band", None
    if not provable and any((*pour.astray_ug, *pour.strayed_ug)):
        return "unproven", "what is gone, or fell between two jugs, may be of either component"
    if not provable:
        return "unproven", "the scale's division is too coarse for so small a batch"
    if bands.conforms(may_be_coarser(pour, sight).cup) != (True, True):
        return "unproven", MAY_BE_COARSER
    return "in-band", None


def _live(draft: Draft, cup: int) -> None:
    stirred.end(draft)
    pour, sight = draft.pour, draft.sight
    verdict, why = _verdict(pour, sight)
    draft.add(
        Live(
            draft.at_ms, cup, verdict, pour.amounts_ug, pour.terms.recipe.ratio_target,
            bands.ratio_actual(pour.cup), why,
        )
    )  # fmt: skip


def _end(draft: Draft, how: str) -> None:
    _take_stock(draft)
    pour, sight = draft.pour, draft.sight
    verdict, why = _verdict(pour, sight)
    actual = bands.ratio_actual(pour.cup) if pour.tared else None
    draft.add(
        Ended(
            draft.at_ms, how, verdict, pour.amounts_ug, pour.terms.recipe.ratio_target, actual, why
        )
    )


def _take_stock(draft: Draft) -> None:
    """Book what was in the cup when the pour was cut short, at rest or not."""
    pour, sight = draft.pour, draft.sight
    called = pour.called
    if called is None or not pour.begun or pour.parting is not None:
        return  # or all of it was booked already
    rest = settled(pour, sight, draft.at_s)
    if rest is not None:
        gross, text = rest.mass_ug + pour.shift_ug, rest.text
    elif pour.trouble is not None:
        gross, text = pour.trouble.gross_ug, ""
    elif sight.level_ug is not None and sight.last is not None:
        gross = max(sight.level_ug, sight.last.mass_ug) + pour.shift_ug
        text = sight.last.text
    else:
        return
    jugs.settle(draft, gross)
    draft.add(Accepted(draft.at_ms, called.component, pour.net_ug(gross), gross, text))
    if rest is None:
        draft.add(Doubted(draft.at_ms, "the pour was cut short before the weight came to rest"))
