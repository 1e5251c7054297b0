"""The builder's own words in a pour: kept as they were said.

In mid-pour nobody is asked to type again, so what another place would refuse (marks of
direction, controls) is kept here too; every place that shows it makes it harmless.
"""

from __future__ import annotations

from mixer.app.files.toml_table import LONGEST_TEXT
from mixer.pour.inputs import Input, Key


def unfit_note(happened: Input) -> str:
    """Why this is no note that can be kept; empty where it is one, or none at all."""
    if not isinstance(happened, Key) or happened.word != "note":
        return ""
    if not happened.text:
        return "A note needs words: note TEXT."
    if len(happened.text) > LONGEST_TEXT:
        long = len(happened.text)
        return f"The note was not taken: it has {long} characters, up to {LONGEST_TEXT} are."
    if any("\ud800" <= c <= "\udfff" for c in happened.text):
        return "The note was not taken: it holds half a character."
    return ""
