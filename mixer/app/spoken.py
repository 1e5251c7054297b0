"""What is said to a person in a terminal: one line each, and nothing in it hidden.

Texts in a record come from anybody's keyboard, and from whoever had the file in hands:
a control character could move the cursor, a mark of direction turn a figure round. Each
is shown by its number instead. The record and the exports keep them as they are.
"""

from __future__ import annotations

import os
import sys

from mixer.app.sentence import sentence

#: Characters of one sentence; more of a value than a person reads is cut off.
LONGEST = 2000


def visible(text: object) -> str:
    """The text with all that a terminal would obey, turn round or not show written out.

    >>> print(visible("wing\\u202e tip\\x1b[2J"))
    wing\\u202e tip\\x1b[2J
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(text))


def tell(text: str) -> None:
    """To standard error; standard output is for scripts."""
    line = visible(text if len(text) <= LONGEST else text[:LONGEST] + "…")
    try:
        if sys.stderr is not None:  # else there is nobody to tell
            print(line, file=sys.stderr, flush=True)
    except OSError:
        return


def done(said: str) -> None:
    """To standard output, what now stands in the record: it does also where nobody can be
    told there, so that then it is told on standard error, and nobody does it twice."""
    try:
        print(visible(said), flush=True)
    except OSError as error:
        let_go_of_output()
        tell(f"{said} Only its output could not be written: {sentence(error)}")


def let_go_of_output() -> None:
    """So that what is still held for it is not tried once more when the program ends."""
    try:
        number = sys.stdout.fileno()
    except (OSError, ValueError):  # no file of the system's: nothing to let go of
        return
    os.dup2(os.open(os.devnull, os.O_WRONLY), number)
