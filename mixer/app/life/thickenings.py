"""What "it is thickening" teaches of a resin: its next cups are drawn toward what was seen.

A builder sees sooner or later than a model, and a lot may be quicker than its label. Few
observations move an estimate little, and only sooner; none makes it last longer than the
range that the label allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from statistics import median
from typing import Any

from mixer.app.book.looking import reading
from mixer.app.files.profiles import ResinProfile
from mixer.app.life.cup_life import CREDIBLE
from mixer.pour.taught import NEWEST
from mixer.record.envelope import RecordError
from mixer.record.later import USED
from mixer.record.reader import Reader
from mixer.record.views import BatchRow, batch_rows

BATCHES = 2 * NEWEST  # looked at, as for the cues; the newest NEWEST observations count
FEW = 4  # with fewer nothing lasts longer than was foretold (our choice)
SLOWNESS = 2  # observations that count as much as the label does (our choice)
_TIMES = ("working_s", "low_s", "high_s", "gel_s", "peak_s", "warm_s", "hot_s", "rule_low_s")


def drawn(foretold: Mapping[str, Any], seen: Sequence[float]) -> dict[str, Any]:
    """The data of the fact, drawn toward what was ``seen``: each a time until a cup of this
    resin thickened by the model's own time for it.

    >>> told = {"model_s": 1500, "working_s": 1500, "low_s": 1200, "high_s": 1900}
    >>> drawn(told, [0.64])["working_s"], drawn(told, [1.2])["working_s"]
    (1292, 1500)
    >>> drawn(told, [1.2] * 6)["working_s"], drawn(told, [2.0] * 12)["working_s"]
    (1720, 1900)
    """
    told = {**foretold, **_of(seen)}
    is_told = told.get("working_s") is not None
    if not seen or not (is_told or told.get("rule_low_s")):
        return told
    factor = _factor(seen)
    if factor <= 1:
        told.update({name: int(told[name] * factor) for name in _TIMES if told.get(name)})
    elif is_told and len(seen) >= FEW:
        told["working_s"] = min(round(told["working_s"] * factor), told["high_s"])
        told["low_s"] = min(int(told["low_s"] * factor), foretold["working_s"])
    return told


def is_drawn(told: Mapping[str, Any], seen: Sequence[float]) -> bool:
    """Whether the data of the fact was drawn toward just what is ``seen`` now.

    >>> [is_drawn(drawn({}, [0.5, 0.7]), seen) for seen in ([0.6, 0.6], [0.5, 0.8], [0.6], [])]
    [True, False, False, False]
    """
    return all(told.get(name) == value for name, value in _of(seen).items())


def sooner(seen: Sequence[float]) -> float:
    """By what the model's times are to be multiplied where a batch is sized: never later.

    >>> round(sooner([0.5, 0.5]), 3), sooner([1.4] * 12), sooner([])
    (0.707, 1.0, 1.0)
    """
    return min(1.0, _factor(seen)) if seen else 1.0


def _factor(seen: Sequence[float]) -> float:
    weight = len(seen) / (len(seen) + SLOWNESS)
    return math.exp(weight * math.log(median(seen)))


def _of(seen: Sequence[float]) -> dict[str, Any]:
    """How many there were, and their median, which is all that they draw by."""
    return {"seen": len(seen), "seen_ratio": round(median(seen), 4) if seen else None}


def seen_before(
    record: Reader, row: BatchRow, read: dict[int, BatchRow | None] | None = None
) -> list[float]:
    """What was seen of the same resin with the same label, in the batches around this one, the
    newest first: a later cup may have thickened while this one lives. Of a batch in several
    cups one teaches the others too. ``read`` is what this has read of the record before: the
    batches around several live cups are the same."""
    alone = row.batch if len(row.cups) < 2 else None
    like, found = _like(row.opened), list[float]()
    for then in _thickened(record, row.batch, alone, read):
        found += _seen(then, like)
        if len(found) == NEWEST:
            break
    return found


def seen_of(record: Path, resin: ResinProfile) -> tuple[list[float], int]:
    """The same for a batch that is yet to be sized, of real ones, and how many of these were said
    to thicken too soon to be believed. Raises nothing: a record that is not there, or cannot be
    read, has taught nothing."""
    about = {"resin_system": resin.name, "pot_life": resin.raw.get("pot_life"), "bench": "real"}
    like, found, too_soon = _like(about), list[float](), 0
    with suppress(ValueError, RecordError), reading(record) as reader:
        newest = max((n for how in USED for n in reader.batches(how, newest=1)), default=0)
        for then in _thickened(reader, newest):
            too_soon += any(ratio < CREDIBLE[0] for ratio in _ratios(then, like))
            found += _seen(then, like)
    return found[:NEWEST], too_soon


def _like(opened: Mapping[str, Any]) -> list[Any]:
    """What two batches must have alike for one to teach the other."""
    return [opened.get(name) for name in ("resin_system", "pot_life", "bench")]


def _thickened(
    record: Reader,
    batch: int,
    but: int | None = None,
    read: dict[int, BatchRow | None] | None = None,
) -> Iterator[BatchRow]:
    """The batches around this one of which a cup was said to thicken, the newest first."""
    read = {} if read is None else read
    for number in range(batch + NEWEST, max(0, batch - BATCHES), -1):
        if number == but:
            continue
        if number not in read:
            read[number] = _if_thickened(record, number)
        if (row := read[number]) is not None:
            yield row


def _if_thickened(record: Reader, number: int) -> BatchRow | None:
    """This batch, where it can be read and a cup of it was said to thicken."""
    with suppress(RecordError):
        # By its kind alone, as it stands in the file: few cups are said to thicken.
        if any(kind == b"thickened" for *_, kind in record.rows(number)):
            return batch_rows(record.entries(number))[0]
    return None


def _seen(then: BatchRow, like: list[Any]) -> list[float]:
    ratios = _ratios(then, like)
    least, most = CREDIBLE
    if len(then.cups) > 1:
        most = 1.0  # a share that nobody weighed may be smaller than it was taken for
    return [min(ratios)] if ratios and least <= min(ratios) <= most else []


def _ratios(then: BatchRow, like: list[Any]) -> list[float]:
    """Of each of its cups that was said to thicken, by the model's own time for it."""
    if _like(then.opened) != like or then.off:  # another mix than its label's
        return []
    timed = [(age_s, _model_s(then, cup)) for cup, age_s in then.thickened.items()]
    return [age_s / model_s for age_s, model_s in timed if model_s is not None]


def _model_s(then: BatchRow, cup: int) -> float | None:
    """The model's time for this cup as it was said: another room may be told since, or one of
    which there is no figure. Where there was none, what was found of it later; for all that stood
    together where it has none of its own."""
    if model_s := then.thickens_by.get(cup):
        return model_s
    for told in (then.shares_foretold.get(cup, {}), then.foretold):
        model_s = told.get("model_s")
        if isinstance(model_s, int | float) and model_s > 0:
            return float(model_s)
    return None
