"""The cups of a batch that is live, or will be: what the facts say of them, and the words about
them that may come before. Pure."""

from __future__ import annotations

from mixer.pour.cup_facts import Moved, Splitting
from mixer.pour.draft import Draft
from mixer.pour.inputs import Key
from mixer.pour.state import Pour

MOST_SHARES = 7  # of one batch, beside its own cup (our choice)
SLACK = 0.02  # of the batch: by which all shares may be more than it (our choice)
AFTER_STIR = "Filler goes in after the stir: first everything must be mixed."


def announce(draft: Draft, key: Key) -> None:
    """The words about the cups that may come before the batch is live."""
    pour = draft.pour
    if key.word == "filler":
        draft.refusal = AFTER_STIR
    elif key.word == "moved" and pour.stage != "stir":
        draft.refusal = "It is moved once it is stirred: into a second, clean cup, all of it."
    elif key.word == "moved":
        move(draft)
    elif pour.splits:
        draft.notice = "It will be split once it is stirred."
    else:
        draft.add(Splitting(draft.at_ms))
        draft.notice = "Once it is stirred it is split: have the empty cups at hand."


def move(draft: Draft) -> None:
    """All of it was scraped into a second cup; said twice it is one."""
    if not draft.pour.moved:
        result = draft.pour.result
        draft.add(Moved(draft.at_ms, getattr(result, "cup", None)))
    draft.notice = "Noted: it is in a second cup now."


def own_cup(pour: Pour) -> int:
    """The number of the batch's own cup."""
    return int(getattr(pour.result, "cup", 0))


def cups_of(pour: Pour) -> list[int]:
    """The numbers of its cups, its own first."""
    return [own_cup(pour), *(share.cup for share in pour.shares)]


def left_ug(pour: Pour) -> int:
    """The most that can be left in the batch's own cup."""
    return max(0, sum(pour.amounts_ug) - sum(share.mass_ug or 0 for share in pour.shares))


def held_ug(pour: Pour, cup: int) -> int | None:
    """How much of the mix is in this cup, without filler; ``None``: nobody weighed it."""
    if cup != own_cup(pour):
        return next(share.mass_ug for share in pour.shares if share.cup == cup)
    return None if any(share.mass_ug is None for share in pour.shares) else left_ug(pour)
