"""What is said to a person in a terminal: one line each, and nothing in it hidden.

Texts in a record come from anybody's keyboard, and from whoever had the file in hands:
a control character could move the cursor, a mark of direction turn a figure round. Each
is shown by its number instead. The record and the exports keep them as they are.
"""

from __future__ import annotations

import sys

#: Characters of one sentence; more of a value than a person reads is cut off.
LONGEST = 2000


def visible(text: object) -> str:
    """The text with all that a terminal would obey, turn round or not show written out.

    >>> print(visible("wing\\u202e tip\\x1b[2J"))
    wing\\u202e tip\\x1b[2J
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(text))


def tell(sentence: str) -> None:
    """To standard error; standard output is for scripts."""
    line = visible(sentence if len(sentence) <= LONGEST else sentence[:LONGEST] + "…")
    try:
        if sys.stderr is not None:  # else there is nobody to tell
            print(line, file=sys.stderr, flush=True)
    except OSError:
        return
