"""The text console and the JSON lines: two faces of the one picture.

They draw, hand words on, and decide nothing. A face that can no longer be read, because
its pipe was closed or its terminal is gone, ends the pour rather than let it run unseen.
"""

from __future__ import annotations

import json
import re
import sys
import threading
from collections.abc import Callable, Iterable
from typing import Any, Protocol, TextIO

from mixer.app import endings
from mixer.app.picture import LiveCup, Picture, Share
from mixer.app.words import ALONE, KNOWN, MAY_SLEEP, tag_in
from mixer.app.words import WORDS as OF_ANY_SCALE

WORDS = (*OF_ANY_SCALE, "shows")
#: Outcomes that are no end of a batch: their sentence belongs on standard error.
FAILED = ("refused", "failed", "unrecorded", "scale-lost", "left-open")
LOOK_S = 0.2
COUNTING_S = 1.0
_FIGURES = re.compile(r"[0-9.]+")


class Bench(Protocol):
    """What a console needs of the program (:class:`mixer.app.bench.shop.Shop`)."""

    def picture(self) -> Picture: ...
    def wait(self, serial: int, timeout_s: float) -> Picture: ...
    def key(self, word: str, text: str = "") -> None: ...
    def stop(self, why: str, *, to_go_on: bool = False) -> None: ...
    def exit_status(self) -> int | None: ...


def run_jsonl(shop: Bench, out: TextIO, words: Iterable[str]) -> int:
    """One JSON object a line on every change; the exit status when the batch is over.

    ``words`` are the lines typed, each one of :data:`WORDS`; their end means nothing.
    Where ``out`` takes no more lines the pour is ended, and the OSError raised.
    """
    last: Picture | None = None

    def show(picture: Picture, over: bool) -> None:
        nonlocal last
        if picture is not last or over:
            _line(json.dumps(as_plain(picture, over=over)), out)
        last = picture

    return _run(shop, words, show)


def run_text(shop: Bench, out: TextIO, words: Iterable[str]) -> int:
    """One line for a person whenever what it says changes; else as :func:`run_jsonl`. What
    there is to say of what cures, of a live cup, of how long the batch should last, and of a
    computer that may fall asleep, has a line of its own.

    A line that differs from the last in its figures alone waits until a second is over, and
    is not said again where a last digit flickers between it and the last.
    """
    before, said, said_s = "", "", 0.0
    told: dict[tuple[int, int], set[object]] = {}  # of what cures, a batch, its cups

    def show(picture: Picture, over: bool) -> None:
        nonlocal before, said, said_s
        for line in _beside(picture, told):
            _line(line, out)
        if over and picture.outcome in FAILED and picture.verdict is None:
            return  # the command says it on standard error
        line = as_text(picture, over=over)
        counting = not over and _FIGURES.sub("", line) == _FIGURES.sub("", said)
        soon = picture.t_s - said_s < COUNTING_S or line == before
        if line == said or (counting and soon):
            return
        _line(line, out)
        before, said, said_s = said, line, picture.t_s

    return _run(shop, words, show)


def as_plain(picture: Picture, *, over: bool) -> dict[str, Any]:
    """One line of the JSON face; the last one (``over``) has the result too.

    Masses in grams, time in seconds; ``None`` where there is no such figure. Where it is known,
    ``lasts`` says how long the batch should last. ``curing`` has a line for each laminate of
    late that is not to be used yet. Where there are live cups, ``live_cups`` has each with its
    age since first contact of hardener, the range of its working time in minutes, the ``cues``
    that have come (:mod:`mixer.app.life.cup_life`), and what is said of it now. Where the weights
    are typed in, there are also the running total that the scale's display is to show
    (``to_show_g``) and what the builder said of it, not yet gone on from (``shows``); all other
    masses mean what they mean for any batch. The last line of a batch that was split, or that
    had filler, has its ``cups``.

    >>> line = as_plain(Picture(stage="pour", component="resin", net_ug=1_500_000), over=False)
    >>> line["stage"], line["component"], line["net_g"], line["target_g"]
    ('pour', 'resin', 1.5, None)
    """
    line: dict[str, Any] = {
        "v": 1,
        "t": round(picture.t_s, 3),
        "stage": "cup" if picture.stage == "ready" and not over else picture.stage,
        "held": picture.held,
        "component": picture.component,
        "net_g": _g(picture.net_ug),
        "total_g": _g(picture.total_ug),
        "target_g": _g(picture.target_ug),
        "low_g": _g(picture.low_ug),
        "high_g": _g(picture.high_ug),
        "cue": picture.cue,
        "say": picture.say,
    }
    if picture.lasts:
        line["lasts"] = picture.lasts
    if picture.curing:
        line["curing"] = list(picture.curing)
    if picture.live_cups:
        line["live_cups"] = [_cup(cup) for cup in picture.live_cups]
    if picture.contact_at_least:
        line["contact_at_least"] = True
    if picture.display is not None:
        line["to_show_g"] = _g(picture.display.target_ug)
        line["shows"] = picture.display.shows or None
    if over:
        if picture.stage == "ready":
            line["stage"] = "ended"
        line |= {
            "batch": picture.batch,
            "cup": picture.cup,
            "ratio_target": picture.ratio_target,
            "ratio_actual": picture.ratio_actual,
            "verdict": picture.verdict,
        }
        if picture.shares:
            line["cups"] = [_share(one) for one in picture.shares]
    return line


def unwarned(picture: Picture) -> str:
    """That nobody hears of the live cups any more once this is over; empty where there are none.

    >>> unwarned(Picture())
    ''
    """
    if not picture.running:
        return ""
    return (
        f"From now on nothing warns of {picture.running}: clocks and warnings go on where a bench "
        "is open on this record, by bare cupside or the next cupside mix."
    )


def as_text(picture: Picture, *, over: bool) -> str:
    """One line of the text face.

    >>> as_text(Picture(cue="place", say="Put the empty cup on the scale."), over=False)
    '[place] Put the empty cup on the scale.'
    """
    if over and picture.verdict is not None:
        actual = "-" if picture.ratio_actual is None else f"{picture.ratio_actual:.2f}"
        cup = f"cup {picture.cup}, " if picture.cup is not None else ""
        return (
            f"batch {picture.batch}: {cup}{picture.verdict}, ratio 100 : {actual} "
            f"(target 100 : {picture.ratio_target:g})"
            + "".join(f"; {_told(one)}" for one in picture.shares)
            + (
                "; its hardener may be older than its clock says"
                if picture.contact_at_least
                else ""
            )
        )
    held = f"HELD ({picture.held}) " if picture.held else ""
    return f"{held}[{picture.cue}] {picture.say}"


def _cup(cup: LiveCup) -> dict[str, Any]:
    stands = cup.stands
    known = stands.low_s is not None and stands.high_s is not None
    line: dict[str, Any] = {
        "cup": cup.cup,
        "batch": cup.batch,
        "age_s": round(cup.age_s, 1),
        "working_min": _min(stands.at_last(stands.working_s)),
        "range_min": [_min(stands.at_last(s)) for s in (stands.low_s, stands.high_s)]
        if known
        else None,
        "cues": [cue.mark for cue in stands.cues],
        "say": stands.say or None,
    }
    line |= {} if stands.thick_s is None else {"thickened_min": _min(stands.thick_s)}
    return line | {"age_at_least": True} if cup.age_at_least else line


def _share(one: Share) -> dict[str, Any]:
    fillers = [{"name": name, "g": _g(mass_ug)} for name, mass_ug in one.fillers]
    return {"cup": one.cup, "g": _g(one.mass_ug), "fillers": fillers}


def _told(one: Share) -> str:
    """
    >>> _told(Share(2, 30_100_000, (("wet micro", None),)))
    'cup 2: 30.1 g, wet micro not weighed'
    """
    parts = [_weighed("", one.mass_ug), *(_weighed(f"{name} ", g) for name, g in one.fillers)]
    return f"cup {one.cup}: {', '.join(parts)}"


def _weighed(name: str, mass_ug: int | None) -> str:
    return f"{name}not weighed" if mass_ug is None else f"{name}{mass_ug / 1e6:.1f} g"


def _min(seconds: float | None) -> float | None:
    return None if seconds is None else round(seconds / 60, 1)


def _beside(picture: Picture, told: dict[tuple[int, int], set[object]]) -> list[str]:
    """What was not said yet of what cures, of the batch and of the live cups; of a cup that is
    seen for the first time only what is said of it now. The cups of one clock are spoken of
    together."""
    cures, lasts = (told.setdefault(of, set()) for of in ((0, -2), (picture.batch or 0, -1)))
    asleep = MAY_SLEEP if picture.may_sleep else ""
    can_wait = () if picture.stage == "pour" else picture.curing
    found = [line for line in (*can_wait, asleep) if line and line not in cures]
    found += [picture.lasts] if picture.lasts and picture.lasts not in lasts else []
    cures.update(found)
    lasts.update(found)
    for cup in picture.live_cups:
        stands = cup.stands
        lines = {(cue.mark, stands.low_s, stands.high_s): cue.say for cue in stands.cues}
        now = {(stands.mark, stands.low_s, stands.high_s): stands.say} if stands.say else {}
        known = told.get(cup.clock, told.get((cup.batch, 0), set()))
        said = lines | now if known else now
        found += [line for key, line in said.items() if key not in known]
        told[cup.clock] = known.union(lines, now)
    return found


def _g(mass_ug: int | None) -> float | None:
    return None if mass_ug is None else round(mass_ug / 1_000_000, 6)


def _line(text: str, out: TextIO) -> None:
    """A line with its end at once: a signal between the two had the next one join it."""
    out.write(f"{text}\n")
    out.flush()


def _run(shop: Bench, words: Iterable[str], show: Callable[[Picture, bool], None]) -> int:
    threading.Thread(target=_listen, args=(shop, words), daemon=True).start()
    try:
        with endings.heeded():
            picture = shop.picture()
            while (status := shop.exit_status()) is None:
                show(picture, False)
                picture = shop.wait(picture.serial, LOOK_S)
    except KeyboardInterrupt as ended:
        why = f"interrupted {ended}".strip()
        status = _stop(shop, why, to_go_on=endings.is_of_the_system(ended))
    except OSError:  # nobody sees any more what is to be done
        _stop(shop, "its output was closed")
        raise
    show(shop.picture(), True)
    return status


def _stop(shop: Bench, why: str, *, to_go_on: bool = False) -> int:
    with endings.undisturbed():
        shop.stop(why, to_go_on=to_go_on)
    status = shop.exit_status()
    return 1 if status is None else status


def _listen(shop: Bench, words: Iterable[str]) -> None:
    try:
        for line in words:
            word, _, text = line.strip().partition(" ")
            if word in ALONE and text:
                said = f"{line.strip()[:20]!r} is no word here"
                print(f"{said}: {word} stands alone on its line.", file=sys.stderr)
            elif word in WORDS:
                shop.key(word, text)
            elif ours := tag_in(word):
                shop.key("jug", ours)
            elif word:
                known = f"{KNOWN}; with no cable shows 44.3"
                print(f"{word[:20]!r} is no word here: {known}.", file=sys.stderr)
    except (OSError, ValueError):  # the terminal is gone, or the input closed: no more words
        return
