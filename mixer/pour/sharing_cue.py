"""What the builder is told while a batch is split: the cue, and few words. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from mixer.pour.cups import held_ug, own_cup
from mixer.pour.fillers import Filler
from mixer.pour.on_scale import Filling, Sharing, content, is_doubtful, may_be
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour
from mixer.pour.words import Advice, grams

DONE = "All shared out: go."


def advise(
    pour: Pour, sight: Sight, sharing: Sharing, fillers: Sequence[Filler], now_s: float
) -> Advice:
    """The cue and the sentence for this moment."""
    own = own_cup(pour)
    if sharing.filling is not None:
        return _fill(sharing.filling, sharing, sight)
    if sight.last is None or sight.silent(now_s) or sight.fault_now(now_s) is not None:
        return Advice(
            "place", f"Cup {own} is live. Nothing is weighed now. For each share: split. {DONE}"
        )
    if sight.last.scale_tared:
        return Advice("clear", "Tare was pressed on the scale: clear it there, with nothing on it.")
    if sharing.tare is not None:
        doubtful = is_doubtful(pour, sharing)
        if there := content(sharing, sight, now_s):
            if doubtful:
                return Advice("share", share_or_filler(pour, sharing, there, sight))
            mass = grams(there.mass_ug - sharing.tare.mass_ug, sight.division_ug)
            return Advice("share", f"{mass}. Enough? Lift it off, or name its filler.")
        if doubtful:
            return Advice(
                "share",
                f"If this cup is empty: pour a share out of cup {own}, then split. If it came "
                f"back: {_numbers(may_be(pour, sharing))}, and the name.",
            )
        return Advice("share", f"Pour a share out of cup {own} into this cup.")
    if sharing.alike or sharing.lost:
        return Advice("place", f"{which_cup(may_be(pour, sharing))} Or take it off.")
    names = ", ".join(one.name for one in fillers)
    if sharing.cup is not None and sharing.cup != own:
        held = held_ug(pour, sharing.cup)
        mass = "not weighed" if held is None else grams(held, sight.division_ug)
        ask = f"Name its filler ({names}), or take" if names else "Take"
        return Advice("place", f"Cup {sharing.cup}: {mass}. {ask} it off for the next empty cup.")
    if sharing.empty or pour.shares:
        return Advice("place", f"Put an empty cup on the scale for the next share. {DONE}")
    return Advice(
        "place", f"Cup {own} is live. To weigh a share, put an empty cup in its place. {DONE}"
    )


def which_cup(cups: Sequence[int]) -> str:
    """What is asked where the weight does not tell it."""
    return f"Which cup is it: {_numbers(cups)}, and the name?"


def share_or_filler(pour: Pour, sharing: Sharing, there: Rest, sight: Sight) -> str:
    """What is asked where something came into a cup that may be an empty one, or may not."""
    mass = grams(there.mass_ug - (sharing.tare.mass_ug if sharing.tare else 0), sight.division_ug)
    told = _numbers(may_be(pour, sharing))
    return f"{mass}: if it is a share, split. If filler: {told}, and the name."


def _numbers(cups: Sequence[int]) -> str:
    return " or ".join(f"filler {cup}" for cup in cups)


def filler_ug(filling: Filling, sight: Sight) -> int | None:
    """How much has come in since the filler was named, by the newest reading."""
    if filling.base is None or sight.last is None:
        return None
    return sight.last.mass_ug - filling.base.mass_ug


def _fill(filling: Filling, sharing: Sharing, sight: Sight) -> Advice:
    name, step = filling.filler.name, sight.division_ug or 100_000
    start = "" if filling.start_ug is None else f"{grams(filling.start_ug, step)} to start, then "
    weighed = filling.base is not None and not sharing.lost
    how = "" if weighed else " Nothing is weighed now."
    return Advice(
        "fill",
        f"Dust mask on. {name.capitalize()} into cup {filling.cup}: {start}to consistency. "
        f"All in: go.{how}",
    )
