"""What each input makes true: the rules of the pour, in one place.

``decide(pour, sight, happened)`` looks at the durable state and at what has been
seen, and answers with facts and, where a word of the builder's is refused, a
sentence. It reads no clock and keeps nothing. Rules:

1. A weight is settled only from a rest (:mod:`mixer.pour.sight`), never one frame.
2. Drips belong to the component that dripped. With keys, ``go`` settles the earlier
   weight at that moment. Hands free, the component's drip time is waited out in band
   and at rest, and whatever still falls before the next stream is booked to it too.
3. Once a weight cannot be followed, the pour goes on only if it is continuous, or
   the empty pan has been seen to show zero since; else the batch is unproven.
4. ``go`` is refused while out of band; from a hold it only resumes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from mixer.pour import bands
from mixer.pour.facts import (
    Accepted,
    Begun,
    Called,
    Doubted,
    Ended,
    Fact,
    Held,
    Live,
    Noted,
    Resumed,
    Stirring,
    Tared,
)
from mixer.pour.inputs import Cut, Input, Key, Tick
from mixer.pour.sight import Rest, Sight, fall_ug
from mixer.pour.state import BY_HAND, Pour, evolve
from mixer.pour.words import FAULT_REASON, HELD, NOT_THE_SAME, grams

ENOUGH = 0.97  # of the size asked for: then the first component needs no more
TARE_REST_S = 1.0
LATE_DRIPS_UG = 600_000  # 0.6 g in 8 s from a cold jug (bench table of the project)
SHORT_GAP_S = 3.0  # no scale can have been switched off and on again in less (practice)
FASTEST_UG_S = 15_000_000
PUT_DOWN_UG_S = 25_000_000  # a cup put down arrives faster than any stream
ON_TRUST_AFTER_S = 30.0


@dataclass(frozen=True, slots=True)
class Decision:
    """Facts that have become true, and a sentence where a word was refused."""

    facts: tuple[Fact, ...] = ()
    refusal: str = ""


class _Draft:
    """The facts of one decision in the making; the state is evolved along with them."""

    def __init__(self, pour: Pour, sight: Sight, at_s: float) -> None:
        self.pour, self.sight, self.at_s = pour, sight, at_s
        self.at_ms = round(at_s * 1000)
        self.facts: list[Fact] = []
        self.refusal = ""

    def add(self, fact: Fact) -> None:
        self.pour = evolve(self.pour, fact)
        self.facts.append(fact)


def decide(pour: Pour, sight: Sight, happened: Input, double_press: bool = False) -> Decision:
    """Facts and refusals of one input. ``sight`` has already seen it."""
    draft = _Draft(pour, sight, happened.at_s)
    if pour.stage in ("live", "ended"):
        return Decision()
    if isinstance(happened, Cut):
        _end(draft, happened.how)
    elif isinstance(happened, Key):
        if not (double_press and happened.word == "go"):
            _key(draft, happened)
    else:
        _follow(draft, happened)
    return Decision(tuple(draft.facts), draft.refusal)


def enough(pour: Pour, net_ug: int) -> bool:
    """Whether so much of the called component is what was asked for."""
    called = pour.called
    assert called is not None
    low = called.low_ug
    if called.component == 0 and not called.addition:
        low = max(low, round(ENOUGH * called.target_ug))
    return low <= net_ug <= called.high_ug


def settled(pour: Pour, sight: Sight, now_s: float) -> Rest | None:
    """The rest that stands for the cup now, if there is one and nothing is held."""
    return None if pour.trouble else sight.recent_rest(now_s)


def waited_s(pour: Pour, sight: Sight, now_s: float) -> float:
    """How long nothing has poured."""
    return 0.0 if sight.quiet_since_s is None else now_s - sight.quiet_since_s


def drip_s(pour: Pour) -> float:
    """How long the called component may drip."""
    if pour.called is None:
        return 0.0
    return pour.terms.recipe.components[pour.called.component].drip_s


def _key(draft: _Draft, key: Key) -> None:
    pour = draft.pour
    match key.word:
        case "note":
            draft.add(Noted(draft.at_ms, key.text))
        case "drop":
            _end(draft, "dropped")
        case "hold" if pour.stage == "stir":
            draft.refusal = "The stir runs on: there is nothing to hold."
        case "hold" if not pour.held_by_hand:
            gross = _gross(draft)
            draft.add(Held(draft.at_ms, BY_HAND, gross, HELD[BY_HAND]))
        case "hold":
            pass
        case "go":
            _go(draft)
        case _:
            draft.refusal = f"{key.word[:20]!r} is no word here: go, hold, drop or note TEXT."


def _go(draft: _Draft) -> None:
    pour, now = draft.pour, draft.at_s
    if pour.held_by_hand:
        draft.add(Resumed(draft.at_ms, BY_HAND, "by-hand", 0))
        return
    if pour.trouble:
        rest = draft.sight.recent_rest(now)
        if _trouble_now(draft) or rest is None or rest.since_s * 1000 < pour.trouble.at_ms:
            draft.refusal = HELD.get(pour.trouble.reason, NOT_THE_SAME)
        else:
            _on_trust(draft, rest)
        return
    if pour.stage == "cup":
        rest = draft.sight.recent_rest(now)
        if rest is None or not _is_cup(draft, rest):
            draft.refusal = "No cup is at rest on the scale yet."
        else:
            _tare(draft, rest)
    elif pour.stage == "stir":
        draft.refusal = "Stir on until the time is up; scrape the sides and the bottom."
    else:
        _go_next(draft)


def _go_next(draft: _Draft) -> None:
    pour = draft.pour
    called = pour.called
    rest = settled(pour, draft.sight, draft.at_s)
    assert called is not None
    if rest is None:
        draft.refusal = "The weight has not come to rest yet: wait."
        return
    net = pour.net_ug(rest.mass_ug + pour.shift_ug)
    if called.low_ug <= net <= called.high_ug:
        _accept(draft, rest, late_drips=False)
        return
    name = pour.terms.recipe.components[called.component].name
    step = draft.sight.division_ug
    draft.refusal = (
        f"Not in band: {grams(net, step)} of {name}; accepted is "
        f"{grams(called.low_ug, step)} to {grams(called.high_ug, step)}."
    )


def _follow(draft: _Draft, happened: Input) -> None:
    pour = draft.pour
    if pour.stage == "stir":
        assert pour.stir_from_ms is not None
        if isinstance(happened, Tick) and draft.at_ms - pour.stir_from_ms >= pour.stir_ms:
            _live(draft, happened.free_cup)
        return
    if pour.stage == "cup":
        rest = draft.sight.rest if draft.sight.resting else None
        waited = rest is not None and rest.at_s - rest.since_s >= TARE_REST_S
        if rest is not None and waited and not pour.held_by_hand and _is_cup(draft, rest):
            _tare(draft, rest)
        return
    _watch(draft)
    if draft.pour.trouble is None and not draft.pour.held_by_hand:
        _advance(draft)


def _is_cup(draft: _Draft, rest: Rest) -> bool:
    zero = draft.sight.pan_zero_ug or 0
    return rest.mass_ug - zero >= fall_ug(draft.sight.division_ug)


def _tare(draft: _Draft, rest: Rest) -> None:
    last = draft.sight.last
    assert last is not None
    draft.add(
        Tared(
            draft.at_ms, rest.mass_ug, draft.sight.pan_zero_ug, last.division_ug, last.unit,
            last.scale_tared, rest.text,
        )
    )  # fmt: skip
    _call(draft, bands.first_call(draft.pour.cup), rest.mass_ug, late_drips=False)


def _call(draft: _Draft, call: bands.Call, gross_ug: int, *, late_drips: bool) -> None:
    draft.add(
        Called(
            draft.at_ms, call.component, gross_ug, call.before_ug, call.target_ug, call.low_ug,
            call.high_ug, call.addition, late_drips,
        )
    )  # fmt: skip


def _accept(draft: _Draft, rest: Rest, *, late_drips: bool) -> None:
    """Settle the called component at this rest and ask for what comes next."""
    called = draft.pour.called
    assert called is not None
    gross = rest.mass_ug + draft.pour.shift_ug
    if not draft.pour.begun and not called.addition:
        draft.add(Begun(draft.at_ms, called.component))
    net = draft.pour.net_ug(gross)
    draft.add(Accepted(draft.at_ms, called.component, net, gross, rest.text))
    call = bands.next_call(draft.pour.cup)
    if call is None:
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))
    else:
        _call(draft, call, gross, late_drips=late_drips)


def _advance(draft: _Draft) -> None:
    pour, sight, now = draft.pour, draft.sight, draft.at_s
    called = pour.called
    if called is None:
        return
    if not pour.begun and not _notice_stream(draft) and not _has_enough(draft):
        return
    rest = settled(pour, sight, now) if sight.resting else None
    if rest is None or waited_s(pour, sight, now) < drip_s(pour):
        return
    net = pour.net_ug(rest.mass_ug + pour.shift_ug)
    if net > called.high_ug:
        _answer_over(draft, rest, net)
    elif pour.terms.hands_free and enough(pour, net):
        _accept(draft, rest, late_drips=True)


def _has_enough(draft: _Draft) -> bool:
    """Whether an addition is in band before anything was added: its limits are those of
    a ratio that was weighed once more, and may take in what is there."""
    called = draft.pour.called
    return called is not None and called.addition and enough(draft.pour, called.before_ug)


def _notice_stream(draft: _Draft) -> bool:
    """Tell the called component's stream from late drips; true once it has begun.

    Drips come drop by drop and are soon over. What comes faster, comes in a lump, or
    comes to more than a jug can drip is the stream of the component that was called
    (in the last case all of it: there was no moment at which the drips ended).
    """
    pour, sight = draft.pour, draft.sight
    called, last = pour.called, sight.last
    assert called is not None
    if last is None:
        return False
    rise = last.mass_ug + pour.shift_ug - called.base_ug
    step = sight.division_ug
    lump = sight.lump()
    if lump is not None and sight.rests[-1].since_s * 1000 <= called.at_ms:
        lump = None  # it fell before this component was called
    pouring = sight.streaming and rise > 3 * step
    if lump is None and not pouring and rise <= max(LATE_DRIPS_UG, 2 * step):
        return False
    if called.late_drips and (lump is not None or pouring):
        _book_late_drips(draft, lump or sight.rest)
    draft.add(Begun(draft.at_ms, called.component))
    return True


def _book_late_drips(draft: _Draft, rest: Rest | None) -> None:
    """What had fallen when the stream began belongs to the component before."""
    pour = draft.pour
    called, before = pour.called, pour.last_accepted
    if called is None or before is None or rest is None:
        return
    gross = rest.mass_ug + pour.shift_ug
    fallen = gross - called.base_ug
    step = draft.sight.division_ug
    if not 2 * step < fallen <= max(LATE_DRIPS_UG, step):
        return  # no more than noise and the first of the stream; or more than can drip
    draft.add(Accepted(draft.at_ms, before, pour.amounts_ug[before] + fallen, gross, rest.text))
    call = bands.next_call(draft.pour.cup)
    if call is not None and call.component == called.component:
        _call(draft, call, gross, late_drips=True)
    else:  # it is this jug that pours, whatever the arithmetic would now ask for
        draft.add(replace(called, at_ms=draft.at_ms, base_ug=gross))


def _answer_over(draft: _Draft, rest: Rest, net_ug: int) -> None:
    """Over the band: take it as it is and ask for more of the other, if that fits."""
    called = draft.pour.called
    assert called is not None
    if called.component == 0 and not any(draft.pour.poured[1:]):
        return  # resin alone: some can be taken out again
    answer = answer_to_over(draft.pour, net_ug)
    if answer is not None and answer.fits:
        _accept(draft, rest, late_drips=True)


def answer_to_over(pour: Pour, net_ug: int) -> bands.Call | None:
    """The addition that brings the ratio back when the called component stands at this."""
    called = pour.called
    if called is None:
        return None
    after = evolve(pour, Accepted(0, called.component, net_ug, 0, ""))
    return bands.next_call(after.cup)


# -- the weight and whether it can be followed ---------------------------------------


def _gross(draft: _Draft) -> int | None:
    last = draft.sight.last
    return None if last is None else last.mass_ug + draft.pour.shift_ug


def _trouble_now(draft: _Draft) -> str | None:
    """Why the weight cannot be followed at this moment, or ``None``."""
    sight, tared = draft.sight, draft.pour.tared
    if sight.fault is not None:
        return FAULT_REASON[sight.fault.kind]
    if sight.silent(draft.at_s):
        return "silent"
    if sight.last is None or tared is None:
        return None
    if sight.last.unit != tared.unit:
        return "unit"
    if sight.last.scale_tared != tared.scale_tared:
        return "tared"
    level = sight.level_ug
    if level is not None and sight.last.mass_ug < level - fall_ug(sight.division_ug):
        return "lifted"
    return None


def _watch(draft: _Draft) -> None:
    reason = _trouble_now(draft)
    trouble = draft.pour.trouble
    if reason is not None:
        if trouble is None or (trouble.reason != reason and reason != "lifted"):
            draft.add(Held(draft.at_ms, reason, _trusted(draft), HELD[reason]))
        return
    if trouble is None:
        return
    rest = draft.sight.rest if draft.sight.resting else None
    if rest is None or rest.at_s * 1000 < trouble.at_ms:
        return
    _try_resume(draft, rest)


def _trusted(draft: _Draft) -> int:
    level = draft.sight.level_ug
    called = draft.pour.called
    if level is not None:
        return level + draft.pour.shift_ug
    return called.base_ug if called else 0


def _try_resume(draft: _Draft, rest: Rest) -> None:
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    gross = rest.mass_ug + pour.shift_ug
    change = gross - trouble.gross_ug
    step = draft.sight.division_ug
    slack = max(300_000, 3 * step)
    gap_s = rest.since_s - trouble.at_ms / 1000
    allowed = FASTEST_UG_S * gap_s if 0 <= gap_s <= SHORT_GAP_S else LATE_DRIPS_UG
    if -slack <= change <= slack + allowed:
        draft.add(Resumed(draft.at_ms, trouble.reason, "continuous", 0))
    elif _empty_seen(draft, rest, slack):
        _resume_from_empty(draft, change, slack)
    elif pour.terms.hands_free and draft.at_s - trouble.at_ms / 1000 >= ON_TRUST_AFTER_S:
        _on_trust(draft, rest)


def _resume_from_empty(draft: _Draft, change_ug: int, slack_ug: int) -> None:
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    lost = change_ug < -slack_ug and (pour.contact_ms is not None or any(pour.poured))
    draft.add(Resumed(draft.at_ms, trouble.reason, "empty-seen", -change_ug if lost else 0))
    if lost:
        why = "the cup came back lighter after more than one component was in it"
        draft.add(Doubted(draft.at_ms, why))


def _empty_seen(draft: _Draft, rest: Rest, slack_ug: int) -> bool:
    """Whether the pan has shown zero, empty, since the trouble, and a cup came after.

    A scale that wakes up loaded shows zero too, so zero alone is no proof: either the
    weight came faster than any stream, or the same cup was seen before and after.
    """
    pour, sight, trouble = draft.pour, draft.sight, draft.pour.trouble
    assert trouble is not None
    assert pour.tared is not None
    zero = pour.tared.zero_ug or 0
    if rest.mass_ug < pour.tared.tare_ug - slack_ug or len(sight.rests) < 2:
        return False
    before = sight.rests[-2]
    if abs(before.mass_ug - zero) > slack_ug or before.at_s * 1000 < trouble.at_ms:
        return False
    if len(sight.rests) >= 3 and abs(sight.rests[-3].mass_ug - rest.mass_ug) <= slack_ug:
        return True
    left = [r.at_s for r in sight.recent if abs(r.mass_ug - zero) <= slack_ug]
    there = [r.at_s for r in sight.recent if r.mass_ug >= 0.9 * rest.mass_ug]
    if not left or not there or there[0] <= left[-1]:
        return False
    return 0.9 * rest.mass_ug / (there[0] - left[-1]) >= PUT_DOWN_UG_S


def _on_trust(draft: _Draft, rest: Rest) -> None:
    """Go on although nothing shows that the weight is right: unproven from here on."""
    pour, trouble = draft.pour, draft.pour.trouble
    assert trouble is not None
    assert pour.tared is not None
    gross = rest.mass_ug + pour.shift_ug
    rezeroed = gross < pour.tared.tare_ug
    shift = trouble.gross_ug - gross if rezeroed else 0
    draft.add(Resumed(draft.at_ms, trouble.reason, "on-trust", shift))
    draft.add(Doubted(draft.at_ms, f"the weight was not continuous after: {trouble.reason}"))


# -- how it ends ------------------------------------------------------------------------


def _verdict(pour: Pour) -> tuple[str, str | None]:
    if pour.tared is None:
        return "unproven", "no cup was weighed"
    if pour.unproven_because is not None:
        return "unproven", pour.unproven_because
    in_band, provable = bands.conforms(pour.cup)
    if not in_band:
        return "out-of-band", None
    if not provable:
        return "unproven", "the scale's division is too coarse for so small a batch"
    return "in-band", None


def _live(draft: _Draft, cup: int) -> None:
    pour = draft.pour
    verdict, why = _verdict(pour)
    draft.add(
        Live(
            draft.at_ms, cup, verdict, pour.amounts_ug, pour.terms.recipe.ratio_target,
            bands.ratio_actual(pour.cup), why,
        )
    )  # fmt: skip


def _end(draft: _Draft, how: str) -> None:
    pour = draft.pour
    rest = settled(pour, draft.sight, draft.at_s)
    called = pour.called
    if called is not None and pour.begun and rest is not None:
        net = pour.net_ug(rest.mass_ug + pour.shift_ug)
        gross = rest.mass_ug + pour.shift_ug
        draft.add(Accepted(draft.at_ms, called.component, net, gross, rest.text))
        pour = draft.pour
    verdict, why = _verdict(pour)
    actual = bands.ratio_actual(pour.cup) if pour.tared else None
    draft.add(
        Ended(
            draft.at_ms, how, verdict, pour.amounts_ug, pour.terms.recipe.ratio_target, actual, why
        )
    )
