"""The builder's own words, as the record can keep them."""

from __future__ import annotations

from mixer.app.toml_table import LONGEST_TEXT
from mixer.pour.inputs import Input, Key


def one_line(text: str) -> str:
    """Words as the record can keep them: printable, and on one line.

    >>> one_line("too\\twarm\\x00 today ")
    'too warm today'
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def unfit_note(happened: Input) -> str:
    """Why this is no note that can be kept; empty where it is one, or none at all."""
    if not isinstance(happened, Key) or happened.word != "note":
        return ""
    if not happened.text:
        return "A note needs words: note TEXT."
    if len(happened.text) > LONGEST_TEXT:
        long = len(happened.text)
        return f"The note was not taken: it has {long} characters, up to {LONGEST_TEXT} are."
    return ""
