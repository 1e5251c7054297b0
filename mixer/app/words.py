"""The words that a builder says to a batch and to its live cups, for every face one list."""

from __future__ import annotations

from mixer.pour import vocabulary
from mixer.pour.vocabulary import CARDS

__all__ = ["ALONE", "CARDS", "KNOWN", "MAY_SLEEP", "OF_THE_WINDOW", "WORDS", "is_kit", "tag_in"]

ALONE = ("hold", "use", "part", "drop", "moved")  # with nothing behind it
WORDS = (*vocabulary.WORDS, "air", "thick", "kit")
KNOWN = f"{vocabulary.KNOWN}, air 24degC, thick CUP, kit TAG or kit 412g"
#: Cards that are no word to a batch: the next one is asked for, a live cup is used up. Written
#: without a blank, which is the pedal's.
OF_THE_WINDOW = ("next", "usedup")
#: What the window and the terminal say where the system did not agree to stay awake.
MAY_SLEEP = (
    "This computer may fall asleep by itself, and then warns of nothing: set it to stay awake."
)


def tag_in(text: str) -> str:
    """The tag of ours that this text ends with, whole or not; else empty.

    >>> tag_in("60 g cpsdcnlsbldhpdpbt"), tag_in("lot 17")
    ('cpsdcnlsbldhpdpbt', '')
    """
    from mixer.plan.tags import HEAD, is_ours  # at a first scan: the window is waited for

    letters = text.strip().lower()
    ours = letters[max(0, letters.rfind(HEAD)) :]
    return ours if is_ours(ours) else ""


def is_kit(text: str) -> bool:
    """Whether it is a whole tag of a ply kit.

    >>> is_kit("cpsdcnlsbldhpdpbt"), is_kit("cpsdckgspbsckxxkjjkrxkdkkjfldgxvdlhsgldnrgnd")
    (False, True)
    """
    from mixer.plan.tags import Kit, TagError, read

    try:
        return isinstance(read(text), Kit)
    except TagError:
        return False
