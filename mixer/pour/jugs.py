"""The right jug: what a tag that was scanned says about the pour, which no scale can see.

Rules:

1. What is scanned is looked at against the component that is called; once of that there is
   enough, the next jug may be taken up early, and is then the right one for what comes next.
2. A wrong jug is said at once, and nothing is held: nothing is poured yet. The last tag counts.
3. Where a stream begins, or goes on after a rest, and the last tag was another jug's, the
   batch is doubted: it is never in band. Where nothing was scanned nothing is doubted.
4. A wrong tag that comes once the stream has begun doubts what is in, for it may be of that
   jug: only the right one, scanned before the stream, says otherwise. No later tag clears it.
"""

from __future__ import annotations

from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted, Jug
from mixer.pour.standing import enough
from mixer.pour.state import Pour
from mixer.pour.trust import LATE_DRIPS_UG
from mixer.pour.words import HELD

TWICE_MS = 1500  # a scanner that reads one tag twice (our choice)
HELD_BY_HAND = "Held: go on first, then scan the jug again."
NONE_ASKED = {
    "cup": "No jug is asked for yet: the empty cup comes first.",
    "pour": "No jug is asked for now: a part is to be taken out first.",
    "stir": "It is being stirred: no jug is asked for any more.",
}


def read(draft: Draft, text: str, gross_ug: int | None) -> None:
    """This tag was scanned; ``gross_ug`` is what the scale carries at rest, ``None`` where that
    is not known."""
    pour = draft.pour
    tags = {c.tag.lower(): i for i, c in enumerate(pour.terms.recipe.components) if c.tag}
    component = tags.get(text.strip().lower())
    called = None if pour.parting else pour.called
    resin = pour.system or "this resin"
    if not text.strip():
        draft.refusal = "A jug needs its tag: jug TAG."
    elif not tags:
        draft.refusal = f"The profile of {resin} names no tags: nothing is known of this jug."
    elif component is None:
        draft.refusal, draft.alarm = f"This tag is none of {resin}'s.", True
    elif called is None:
        draft.refusal = NONE_ASKED[pour.stage]
    elif pour.held_by_hand:
        draft.refusal = HELD_BY_HAND
    else:
        net = None if gross_ug is None else pour.net_ug(gross_ug)
        early = (
            net is not None and enough(pour, net) and component == _after(pour, called.component)
        )
        asked = component if early else called.component
        new = _look(draft, Jug(draft.at_ms, component, asked, gross_ug))
        draft.notice = _said(draft.pour, component, net)
        draft.alarm = new and is_wrong(draft.pour)
        if new:
            _doubt_what_is_in(draft, pour, gross_ug)


def _doubt_what_is_in(draft: Draft, before: Pour, gross_ug: int | None) -> None:
    """Doubt what came of this stream, where it may be of the wrong jug: of the one that is
    scanned now, or of the one before, whose stream went on."""
    last, called = before.jug, before.called
    assert called is not None
    if not before.begun or before.terms.typed_division_ug is not None:
        return  # typed: it counts as begun as soon as it is asked for
    if last is None or last.called != called.component:  # none was scanned before the stream
        net = None if gross_ug is None else before.net_ug(gross_ug)
        there = net is not None and enough(before, net)
        taken_up = there and _after(before, called.component) is not None
        if is_wrong(draft.pour) and not taken_up:  # else it is taken up for what comes next
            _doubt(draft)
    elif is_wrong(before):
        unknown = gross_ug is None or last.gross_ug is None
        if unknown or (gross_ug or 0) - (last.gross_ug or 0) > LATE_DRIPS_UG:
            _doubt(draft)


def _look(draft: Draft, jug: Jug) -> bool:
    """Take it down, but where a scanner only read it twice; whether that was done."""
    last = draft.pour.jug
    same = last is not None and (last.component, last.called) == (jug.component, jug.called)
    if same and last is not None and jug.at_ms - last.at_ms < TWICE_MS:
        return False
    draft.add(jug)
    return True


def _said(pour: Pour, component: int, net_ug: int | None) -> str:
    """What is said of the jug that was just scanned."""
    assert pour.called is not None
    own, asked = _name(pour, component), _name(pour, pour.called.component)
    if component == pour.called.component and pour.trouble is not None:
        return f"That is the {own}. {HELD[pour.trouble.reason]}"
    if component == pour.called.component:
        return f"That is the {own}: pour." if _wants(pour, net_ug) else f"That is the {own}."
    if not is_wrong(pour):
        return f"That is the {own}, which comes next: go on first."
    said = f"That is the {own}'s jug, and {asked} is asked for: put it down."
    if pour.begun and pour.terms.typed_division_ug is None:
        said += f" If it has been poured from, say: was {own}."
    return said


def _wants(pour: Pour, net_ug: int | None) -> bool:
    """Whether the called jug is still to be poured from, as far as that is known: once its
    stream has begun the cue alone tells."""
    assert pour.called is not None
    if pour.begun and pour.terms.typed_division_ug is None:
        return False
    return net_ug is None or not (enough(pour, net_ug) or net_ug > pour.called.high_ug)


def is_wrong(pour: Pour) -> bool:
    """Whether the last tag that was scanned for the called component is another's.

    >>> from mixer.pour.facts import Called, Opened
    >>> from mixer.pour.recipe import Component, Recipe, Terms
    >>> from mixer.pour.state import begin, evolve
    >>> two = Component("resin", "resin", 100, 8), Component("hardener", "hardener", 36, 8)
    >>> pour = begin(Opened(0, Terms(Recipe(two, 0.03), 60_000_000, None, None, 20_000, False)))
    >>> pour = evolve(pour, Called(1, 1, 0, 0, 1, 1, 1, False, False))
    >>> is_wrong(evolve(pour, Jug(2, 1, 1))), is_wrong(evolve(pour, Jug(2, 0, 1)))
    (False, True)
    """
    return (
        pour.jug is not None
        and pour.called is not None
        and pour.jug.called == pour.called.component != pour.jug.component
    )


def reminder(pour: Pour) -> str:
    """What is said along with what there is to pour, as long as the wrong jug is in hand."""
    if not is_wrong(pour) or pour.jug is None or pour.parting is not None:
        return ""
    return f" The jug scanned last is the {_name(pour, pour.jug.component)}'s."


def doubt(draft: Draft) -> None:
    """Doubt what is poured now, where it comes from the wrong jug as far as is known."""
    if is_wrong(draft.pour):
        _doubt(draft)


def settle(draft: Draft, gross_ug: int) -> None:
    """The same where the called component is settled at this gross: more than drips came since
    another's jug was scanned, or, where it is the wrong one and the weight moved then, may have."""
    jug, called = draft.pour.jug, draft.pour.called
    if jug is None or called is None or jug.component == called.component:
        return
    if jug.gross_ug is None:
        doubt(draft)
    elif gross_ug - jug.gross_ug > LATE_DRIPS_UG:
        _doubt(draft)


def _doubt(draft: Draft) -> None:
    assert draft.pour.called is not None
    name = _name(draft.pour, draft.pour.called.component)
    why = f"the jug that was scanned last is not that of the {name}"
    if why not in draft.pour.doubts:
        draft.add(Doubted(draft.at_ms, why))


def _after(pour: Pour, called: int) -> int | None:
    """The component that is called once this one is there."""
    others = (i for i, done in enumerate(pour.poured) if not done and i != called)
    return next(others, None)


def _name(pour: Pour, component: int) -> str:
    return pour.terms.recipe.components[component].name
