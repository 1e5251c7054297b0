"""Figures and words as a person reads them.

Micrograms become grams here and nowhere earlier, with the scale's own number of
decimals. Must never round by floating point, and never show "-0.0".
"""

from __future__ import annotations

import functools
import math

NOTHING = "–"
MINUS = "\u2212"
UG_PER_G = 1_000_000


def decimals(division_ug: int | None) -> int:
    """Decimals in grams that show one division of the scale; 1 where it is not known.

    >>> [decimals(d) for d in (1_000_000, 500_000, 100_000, 10_000, None)]
    [0, 1, 1, 2, 1]
    """
    if division_ug is None or division_ug <= 0:
        return 1
    places, step = 0, UG_PER_G
    while step > division_ug and places < 6:
        step //= 10
        places += 1
    return places


def figure(mass_ug: int | None, division_ug: int | None) -> str:
    """A mass in grams without its unit, rounded half away from zero.

    >>> figure(57_449_999, 100_000), figure(-40_000, 100_000), figure(-150_000, 100_000)
    ('57.4', '0.0', '−0.2')
    """
    if mass_ug is None:
        return NOTHING
    places = decimals(division_ug)
    unit = 10 ** (6 - places)
    steps = (abs(mass_ug) + unit // 2) // unit
    whole, part = divmod(steps, 10**places)
    sign = MINUS if mass_ug < 0 and steps else ""
    return f"{sign}{whole}.{part:0{places}d}" if places else f"{sign}{whole}"


def grams(mass_ug: int | None, division_ug: int | None) -> str:
    """The same with its unit.

    >>> grams(57_400_000, 100_000), grams(None, 100_000)
    ('57.4 g', '–')
    """
    return NOTHING if mass_ug is None else figure(mass_ug, division_ug) + " g"


def clock(seconds: float | None) -> str:
    """Whole seconds passed, as m:ss or h:mm:ss; never rounded up to a second not yet lived.

    >>> clock(0), clock(754.9), clock(3600), clock(None)
    ('0:00', '12:34', '1:00:00', '–')
    """
    if seconds is None or not math.isfinite(seconds):
        return NOTHING
    minutes, second = divmod(max(0, math.floor(seconds)), 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours}:{minute:02d}:{second:02d}" if hours else f"{minute}:{second:02d}"


def span(low_s: float | None, high_s: float | None) -> str:
    """The range of a working time, the earlier end rounded down and the later one up.

    >>> span(1290, 1710), span(None, None)
    ('of 21–29 min', '')
    """
    if low_s is None or high_s is None:
        return ""
    return f"of {math.floor(low_s / 60)}–{math.ceil(high_s / 60)} min"


def countdown(seconds: float | None) -> str:
    """Whole seconds left, rounded up: zero stands only when the wait is over.

    >>> countdown(0.2), countdown(60), countdown(-3)
    ('0:01', '1:00', '0:00')
    """
    if seconds is None or not math.isfinite(seconds):
        return NOTHING
    return clock(math.ceil(seconds))


def plain(word: str | None) -> str:
    """A word of the vocabulary as it is read aloud.

    >>> plain("in-band"), plain(None)
    ('in band', '')
    """
    return clean(word).replace("-", " ") if word else ""


@functools.lru_cache(maxsize=256)  # the same few names and sentences, ten times a second
def clean(text: str, most: int = 400) -> str:
    """One line of text that any screen can draw: no control characters, no line breaks.

    Characters beyond the basic plane are replaced, because some window systems
    break on them.

    >>> clean("a\\nb \\x07 c"), clean("\\U0001f600"), clean("x" * 9, most=4)
    ('a b � c', '�', 'xxx…')
    """
    if not (text.isascii() and text.isprintable()):
        text = "".join(
            c if c.isspace() or (c.isprintable() and c < "\U00010000") else "�" for c in text
        )
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1] + "…"


def ratio(hardener: float | None) -> str:
    """Hardener per 100 of resin, as on a label.

    >>> ratio(36.0), ratio(35.871)
    ('100 : 36', '100 : 35.87')
    """
    if hardener is None or not math.isfinite(hardener):
        return NOTHING
    if abs(hardener) >= 1e6:
        return f"100 : {hardener:.3g}"
    return f"100 : {hardener:.2f}".rstrip("0").rstrip(".")
