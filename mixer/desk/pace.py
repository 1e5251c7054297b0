"""Whether a scanner typed a card: by the times of its keys, and by what cards there are. Pure:
times are handed in.

They are those that the display server stamped on the keys, so that a busy program does not
stretch them. Must never take what a hand has typed for a card, nor lose one for a key that was
hit before it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

#: A wedge scanner sends a letter each 1 to 50 ms (common practice, no source); a fast hand has
#: 100 ms and more between its keys, rolls some two, and hardly two in a row below 60 (from
#: memory).
MEAN_MS, LETTER_MS = 60, 65
#: One letter of four may be late, where the server itself was held up: the others then come
#: from its queue, all at once (our choice).
LATE_MS = 200
#: As many keys as a glove hits close to a scan; two with no digit, as a code has (our choice).
STRAY = 2


def scanned(letters: str, times_ms: Sequence[int], enter_ms: int, cards: Collection[str]) -> str:
    """The longest of these cards that the letters before this Enter end with, where it came as
    no hand types and began there; else nothing.

    >>> scanned("hold", [0, 20, 40, 60], 80, ["hold"])
    'hold'
    >>> scanned("xhold", [0, 150, 155, 160, 165], 170, ["hold"])
    'hold'
    >>> scanned("go", [0, 35], 115, ["go"]), scanned("cargo", [0, 9, 18, 27, 36], 45, ["go"])
    ('', '')
    """
    gaps_ms = [after - at for at, after in pairwise([*times_ms, enter_ms])]
    ends = [card for card in cards if card and letters.endswith(card)]
    for card in sorted(ends, key=len, reverse=True):
        before, own_ms = letters[: -len(card)], gaps_ms[-len(card) :]
        if _is_burst(own_ms) and _begins(before, gaps_ms, own_ms):
            return card
    return ""


def _is_burst(gaps_ms: Sequence[int]) -> bool:
    late = sum(gap > LETTER_MS for gap in gaps_ms)
    one_late = min(gaps_ms) >= 0 and max(gaps_ms) <= LATE_MS and late <= len(gaps_ms) // 4
    return one_late and sum(gaps_ms) <= MEAN_MS * len(gaps_ms)


def _begins(before: str, gaps_ms: Sequence[int], own_ms: Sequence[int]) -> bool:
    """Whether there is a pause before it that is none at its own pace, but for a stray key."""
    pause_ms = 1.5 * sorted(own_ms)[len(own_ms) // 2] + 10
    for at in range(len(before), max(-1, len(before) - STRAY - 1), -1):
        stray = before[at:]
        if len(stray) > 1 and any(char.isdigit() for char in stray):
            return False
        if at == 0 or not 0 <= gaps_ms[at - 1] < pause_ms:
            return True
    return False
