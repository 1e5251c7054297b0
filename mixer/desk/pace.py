"""Whether a scanner typed: by the times of its keys alone. Pure: times are handed in.

They are those that the display server stamped on the keys, so that a busy program does not
stretch them. Must never take what a hand has typed for a card.
"""

from __future__ import annotations

from collections.abc import Sequence

#: A wedge scanner sends a letter each 1 to 50 ms (common practice, no source); a fast hand has
#: 100 ms and more between its keys, and hardly two below 60 one after another (from memory).
MEAN_MS = 60
#: A single letter may be late, where the server itself was held up (our choice).
MOST_MS = 200


def scanned(letters: str, times_ms: Sequence[int], enter_ms: int) -> str:
    """Those before this Enter that came without a pause, if they came as no hand types; else
    nothing.

    >>> scanned("hold", [0, 20, 40, 60], 80), scanned("xhold", [0, 700, 720, 740, 760], 780)
    ('hold', 'hold')
    >>> scanned("go", [0, 80], 170)
    ''
    """
    at, after_ms = len(letters), enter_ms
    while at and 0 <= after_ms - times_ms[at - 1] <= MOST_MS:
        at, after_ms = at - 1, times_ms[at - 1]
    count = len(letters) - at
    return letters[at:] if count and enter_ms - after_ms <= MEAN_MS * count else ""
