"""What went wrong, as a sentence of its own."""

from __future__ import annotations


class NotDone(ValueError):
    """It could not be done; the message is one sentence for a person."""


def sentence(error: Exception) -> str:
    """The error's text, with a full stop where it has no end of its own.

    >>> sentence(ValueError("size: '60' has no unit; give a mass such as '60 g'"))
    "size: '60' has no unit; give a mass such as '60 g'."
    >>> sentence(OSError(2, "No such file or directory"))
    'No such file or directory.'
    """
    text = (isinstance(error, OSError) and error.strerror) or str(error)
    return text if text.endswith((".", "?")) else f"{text}."
