"""A pour on a scale with no cable: what each word of the builder's makes true.

The facts are those of any other pour, so that folding, carrying on, record and export work
as they do for it; what differs is where a weight comes from. Rules:

1. A weight counts when it was said and gone on from (``go``). Only the figure with which the
   batch is complete may be said by ``go`` alone: as it was asked for.
2. The next jug is called once the total before it is known. From that moment it may be
   open, and its first contact counts from there: the earliest that it can have been.
3. Out of band ``go`` is refused. What is over and can be put right, and what is far from what
   was asked for, is asked about once, also where it is to be used as it is: one slip of a
   finger would spoil the batch, or the record of it.
4. No such batch is ever called in band: nobody but the builder has seen its weights.
"""

from __future__ import annotations

from dataclasses import replace

from mixer.pour import bands, cups, jug_weights, jugs, parting, turns, typed_was
from mixer.pour.decide import note_or_hold
from mixer.pour.decision import Decision
from mixer.pour.draft import Draft
from mixer.pour.facts import (
    Accepted,
    Begun,
    Doubted,
    Ended,
    Fact,
    Live,
    Parted,
    Parting,
    Resumed,
    Stirring,
    Tared,
)
from mixer.pour.inputs import Cut, Input, Key, Tick
from mixer.pour.leaps import FASTEST_UG_S
from mixer.pour.shows import (
    LESS_THAN_NOTHING,
    Ask,
    Entry,
    ask_of,
    beyond,
    division_ug,
    is_far,
    is_resin_alone,
    is_slip,
    is_stuck,
    known_ug,
    read_ug,
    stuck_ug,
)
from mixer.pour.sight import Sight
from mixer.pour.standing import as_it_is, is_mixed, is_nearest
from mixer.pour.state import BY_HAND, Pour
from mixer.pour.typed_cue import SAY_IT, STIR_ON, not_in_band
from mixer.pour.typed_why import TYPED, because
from mixer.pour.vocabulary import KNOWN
from mixer.pour.words import HELD, grams, too_heavy

AS_ASKED = "as asked"
LEAST_S = 2.0  # to open a jug and to put it down (our choice)


def decide(
    pour: Pour, entry: Entry, happened: Input, double_press: bool = False
) -> tuple[Entry, Decision]:
    """What is said of the display from here on; facts and refusals of one input."""
    draft = Draft(pour, Sight(), happened.at_s)
    if pour.stage in ("split", "live", "ended"):  # split: see mixer.pour.sharing
        return Entry(), Decision()
    match happened:
        case Cut():
            _end(draft, happened.how)
        case Key(word="go") if double_press:
            pass
        case Key():
            entry = _key(draft, entry, happened)
        case Tick():
            _follow(draft, happened)
    now = draft.pour
    if now.called is not pour.called or now.parting is not pour.parting or now.stage != pour.stage:
        entry = Entry()  # it was of what was asked for before
    return entry, Decision(tuple(draft.facts), draft.refusal, draft.notice, draft.alarm)


def mend(draft: Draft, last: Fact) -> None:
    """Complete a decision of which only the first facts are there."""
    pour = draft.pour
    if pour.stage == "pour" and isinstance(last, Tared):
        _ask_next(draft, last.tare_ug)
    elif pour.stage == "pour" and (pour.called is None or isinstance(last, Accepted)):
        _ask_next(draft, last.gross_ug if isinstance(last, Accepted) else known_ug(pour))


def heard(pour: Pour, text: str, now_s: float) -> Entry:
    """What was said of the display, looked at."""
    gross, ask = read_ug(text), ask_of(pour, now_s)
    if gross is None:
        read = f"{text[:20]!r} is no weight: type" if text.strip() else "Type"
        wrong = f"{read} in grams what the scale shows, such as 44.3."
    else:
        wrong = _wrong(pour, text, gross, ask)
    return Entry(text.strip(), None if wrong else gross, wrong)


def _wrong(pour: Pour, text: str, gross: int, ask: Ask | None) -> str:
    """Why this cannot be what the scale shows; empty where it can."""
    step, before = division_ug(pour), known_ug(pour)
    if pour.parting is not None and ask is None:
        return parting.NOT_YET_STIRRED
    if ask is None:
        return "Nothing is being weighed now: no figure is wanted."
    if wrong := beyond(pour, text, gross):
        return wrong
    if pour.parting is not None and gross > before:
        return f"It showed {grams(before, step)}: nothing is to come in while a part is taken out."
    if pour.parting is not None:
        tare = pour.cup.tare_ug
        return "" if gross > tare else "That is no more than the empty cup: something must be left."
    if gross < 0 and pour.stage == "cup":
        return LESS_THAN_NOTHING
    if gross < before:
        return (
            f"It showed {grams(before, step)} before: type what it shows now. If that was typed "
            f"wrong, say what it did show: was 44.3. If some is gone from the cup, or the zero "
            "moved, drop the batch."
        )
    if pour.stage == "cup" and bands.too_heavy(pour.terms, gross):
        return too_heavy(pour.terms.size_ug, step)
    return ""


def _key(draft: Draft, entry: Entry, key: Key) -> Entry:
    pour = draft.pour
    match key.word:
        case "note" | "hold":
            note_or_hold(draft, key, known_ug(pour))
        case "drop":
            _end(draft, "dropped")
        case "weigh":
            jug_weights.say(draft, key)
        case "split" | "moved" | "filler":
            cups.announce(draft, key)
        case "go" if pour.held_by_hand:
            draft.add(Resumed(draft.at_ms, BY_HAND, "by-hand", 0))
        case "jug":
            jugs.read(draft, key.text, entry.gross_ug)
        case _ if pour.held_by_hand:
            draft.refusal = HELD[BY_HAND]
        case "was":
            gross = typed_was.say(draft, key.text)
            if gross is not None:
                _ask_next(draft, gross)
        case "shows":
            return _hear(draft, entry, key.text)
        case "go" | "use" | "part":
            return _act(draft, entry, key)
        case _:
            draft.refusal = f"{key.word[:20]!r} is no word here: shows 44.3, {KNOWN}."
    return entry


def _hear(draft: Draft, entry: Entry, text: str) -> Entry:
    """What is said of the display from here on; a figure that nobody asked for is not kept."""
    new = heard(draft.pour, text, draft.at_s)
    draft.refusal = new.wrong
    return entry if ask_of(draft.pour, draft.at_s) is None else new


def _act(draft: Draft, entry: Entry, key: Key) -> Entry:
    """``go``, ``use`` or ``part``, with what the scale shows said before it or along with it."""
    if draft.pour.stage == "stir":
        draft.refusal = STIR_ON if key.word == "go" else "It is being stirred already."
        return entry
    if key.text and key.text.strip() != entry.text:
        entry = _hear(draft, entry, key.text)
    # What was said of the display did not do: nothing stands in its place.
    draft.refusal = draft.refusal or entry.wrong
    if draft.refusal:
        return entry
    match key.word:
        case "use":
            return _use(draft, entry)
        case "part":
            return _part(draft, entry)
        case _ if draft.pour.stage == "cup":
            _tare(draft, entry)
        case _ if draft.pour.parting is not None:
            _take_out(draft, entry)
        case _:
            return _go(draft, entry)
    return entry


def _tare(draft: Draft, entry: Entry) -> None:
    gross = entry.gross_ug or 0
    if bands.too_heavy(draft.pour.terms, gross):
        draft.refusal = too_heavy(draft.pour.terms.size_ug, division_ug(draft.pour))
        return
    text = entry.text or AS_ASKED
    step = division_ug(draft.pour)
    draft.add(Tared(draft.at_ms, gross, None, step, "g", gross == 0, text))
    draft.add(Doubted(draft.at_ms, TYPED))
    _ask_next(draft, gross)


def _go(draft: Draft, entry: Entry) -> Entry:
    pour, ask = draft.pour, ask_of(draft.pour, draft.at_s)
    called, step = pour.called, division_ug(pour)
    assert called is not None
    assert ask is not None
    gross, text = entry.gross_ug, entry.text
    if gross is None:
        if not ask.as_asked or _too_soon(draft, ask):
            draft.refusal = SAY_IT if not ask.as_asked else (
                f"Nobody pours that in so short a time: go on when it shows "
                f"{grams(ask.target_ug, step)}."
            )  # fmt: skip
            return entry
        gross, text = ask.target_ug, AS_ASKED
    net = pour.net_ug(gross)
    if (net < called.low_ug and not is_nearest(pour, net)) or is_stuck(pour, net):
        draft.refusal = not_in_band(pour, ask, gross)
        return replace(entry, asked=True)
    if not entry.asked and (net > called.high_ug or is_far(pour, net)):
        draft.refusal = not_in_band(pour, ask, gross)
        return replace(entry, asked=True)
    _accept(draft, gross, text)
    _ask_next(draft, gross)
    return entry


def _too_soon(draft: Draft, ask: Ask) -> bool:
    """Whether what was asked for cannot have been poured since: a pedal that was pressed twice."""
    called = draft.pour.called
    assert called is not None
    needs_s = LEAST_S + (ask.target_ug - called.base_ug) / FASTEST_UG_S
    return draft.at_s - called.at_ms / 1000 < needs_s


def _use(draft: Draft, entry: Entry) -> Entry:
    """Stir what is out of band, and use it: only the builder can say so."""
    pour, called = draft.pour, draft.pour.called
    gross = stuck_ug(pour, entry)
    stuck = called is not None and gross is not None and is_stuck(pour, pour.net_ug(gross))
    stuck = stuck and not is_resin_alone(pour)
    if called is None or not (stuck or pour.parting or _has_hardener(pour, entry)):
        draft.refusal = "There is no hardener in the cup: nothing here is a batch yet."
    elif pour.parting is not None:
        if entry.gross_ug is not None:
            _book_taken(draft, entry.gross_ug, entry.text)
        turns.use_as_it_is(draft, known_ug(draft.pour))
        _open(draft)
    elif gross is None:
        draft.refusal = SAY_IT
    elif called.low_ug <= (net := pour.net_ug(gross)) <= called.high_ug:
        draft.refusal = "It is in band: go on with go."
    elif _is_to_be_asked(pour, entry):
        return _ask_once(draft, entry, gross, "use")
    else:
        if as_it_is(pour, net) is not pour:
            _accept(draft, gross, entry.text)
        turns.use_as_it_is(draft, gross, go_on=stuck)
        _open(draft)
    return entry


def _is_to_be_asked(pour: Pour, entry: Entry) -> bool:
    """Whether the figure that was typed is far from what was asked for, and nobody asked yet."""
    gross = entry.gross_ug
    return gross is not None and not entry.asked and is_slip(pour, pour.net_ug(gross))


def _ask_once(draft: Draft, entry: Entry, gross: int, word: str) -> Entry:
    """Whether the scale shows that, as it is far from what was asked for."""
    pour, called = draft.pour, draft.pour.called
    assert called is not None
    step, before = division_ug(pour), gross - pour.net_ug(gross)
    draft.refusal = (
        f"{grams(gross, step)} is far from the {grams(before + called.target_ug, step)} asked for. "
        f"If it does show that, {word} once more."
    )
    return replace(entry, asked=True)


def _has_hardener(pour: Pour, entry: Entry) -> bool:
    """Whether there is any in the cup, as far as that was said; else it may not be opened."""
    called, recipe = pour.called, pour.terms.recipe
    said = entry.gross_ug is None or entry.gross_ug > known_ug(pour)
    coming = called is not None and called.component in recipe.hardeners and said
    return coming or (pour.tared is not None and pour.cup.hardener_ug > 0)


def _part(draft: Draft, entry: Entry) -> Entry:
    """Stir what is over the band and has no room, so that a part of it can be taken out."""
    pour, called = draft.pour, draft.pour.called
    gross = stuck_ug(pour, entry)
    if pour.parting is not None:
        draft.refusal = "It is being parted already."
    elif called is None or is_resin_alone(pour):
        draft.refusal = parting.NOT_MIXED
    elif gross is None:
        draft.refusal = SAY_IT
    elif not is_mixed(pour, net := pour.net_ug(gross)):
        draft.refusal = parting.NOT_MIXED
    elif not is_stuck(pour, net):
        over = net > called.high_ug
        draft.refusal = (
            "There is room to put it right: go on with go."
            if over
            else "It is not over the band: there is nothing to be parted."
        )
    elif parting.to_take_out_ug(parting.parted_once(pour, net)) is None:
        draft.refusal = "It is too far out for any part of it to be put right: drop it, or use it."
    elif _is_to_be_asked(pour, entry):
        return _ask_once(draft, entry, gross, "part")
    else:
        if as_it_is(pour, net) is not pour:
            _accept(draft, gross, entry.text)
        draft.add(Parting(draft.at_ms, gross, pour.stir_ms))
    return entry


def _take_out(draft: Draft, entry: Entry) -> None:
    ask, step = ask_of(draft.pour, draft.at_s), division_ug(draft.pour)
    if ask is None:
        draft.refusal = parting.NOT_YET_STIRRED
    elif entry.gross_ug is None:
        draft.refusal = SAY_IT
    elif entry.gross_ug > ask.high_ug:
        more = grams(entry.gross_ug - ask.high_ug, step)
        draft.refusal = f"There is no room yet: take {more} more out."
    else:
        _book_taken(draft, entry.gross_ug, entry.text)
        _ask_next(draft, entry.gross_ug)


def _book_taken(draft: Draft, gross: int, text: str) -> None:
    assert draft.pour.parting is not None
    known = draft.pour.parting.gross_ug
    if gross < known:
        amounts = parting.without(draft.pour.cup, known - gross).amounts_ug
        draft.add(Parted(draft.at_ms, known, gross, amounts, text))


def _accept(draft: Draft, gross: int, text: str) -> None:
    """Settle the called component at this total."""
    called = draft.pour.called
    assert called is not None
    if not draft.pour.begun:  # of a record that was cut between two facts
        draft.add(Begun(draft.at_ms, called.component, draft.at_ms - called.at_ms))
    jugs.doubt(draft)
    net = draft.pour.net_ug(gross)
    draft.add(Accepted(draft.at_ms, called.component, net, gross, text))


def _ask_next(draft: Draft, gross: int) -> None:
    """Ask for what comes next; its jug may be open from now on."""
    call = bands.next_call(draft.pour.cup)
    if call is None:
        draft.add(Stirring(draft.at_ms, draft.pour.stir_ms))
        return
    turns.call_for(draft, call, gross, late_drips=False)
    _open(draft)


def _open(draft: Draft) -> None:
    """The jug of what is called may be open from now on."""
    if draft.pour.stage == "pour" and draft.pour.called is not None:
        draft.add(Begun(draft.at_ms, draft.pour.called.component))


def _follow(draft: Draft, tick: Tick) -> None:
    pour = draft.pour
    if pour.stage != "stir" or draft.at_ms - (pour.stir_from_ms or 0) < pour.stir_ms:
        return
    target, actual = pour.terms.recipe.ratio_target, bands.ratio_actual(pour.cup)
    draft.add(
        Live(
            draft.at_ms, tick.free_cup, "unproven", pour.amounts_ug, target, actual,
            because(pour),
        )
    )  # fmt: skip


def _end(draft: Draft, how: str) -> None:
    pour = draft.pour
    actual = bands.ratio_actual(pour.cup) if pour.tared else None
    target, why = pour.terms.recipe.ratio_target, because(pour)
    draft.add(Ended(draft.at_ms, how, "unproven", pour.amounts_ug, target, actual, why))
