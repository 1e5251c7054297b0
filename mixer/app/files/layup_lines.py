"""On which line of a layup's file, or of a cloth's, a slip stands: TOML, once read, does not
tell.

It is looked for by reading the beginning of the file again, up to one line or another. Must
never name a wrong line: where it is not plain, none is named.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from mixer.app.files.toml_table import At, ProfileError

#: So often the file is read; a value may go over lines that say nothing by themselves.
MOST_READ = 80
#: What ends a list of plies that are written one a line, also one within a list of steps.
CLOSED = ("", "\n]", "\n]}\n]")


@contextmanager
def with_line(path: Path) -> Iterator[None]:
    """Within, a :class:`ProfileError` about this file, which was read, has its line too."""
    try:
        yield
    except ProfileError as error:
        try:
            text = path.read_text(encoding="utf-8-sig")
        except (OSError, ValueError):
            raise error from None  # changed since
        raise ProfileError(placed(str(error), error.at, str(path), text)) from None


def placed(said: str, at: At, file: str, text: str) -> str:
    """The sentence about this place in this file with its line, if that can be told.

    >>> text = "[[step]]\\nname = 'skin'\\n\\n[[step.ply]]\\nfabric = 'bid'\\n"
    >>> placed("a.toml: fabric: 'bid' was read", ("step", 0, "ply", 0, "fabric"), "a.toml", text)
    "a.toml: line 5, fabric: 'bid' was read"
    >>> placed("a.toml: shape: is missing", ("step", 0, "ply", 0, "shape"), "a.toml", text)
    'a.toml: line 4, shape: is missing'
    >>> placed("a.toml: source: is missing", ("source",), "a.toml", text)
    'a.toml: line 1, source: is missing'
    """
    rest = said.removeprefix(f"{file}: ")
    line = _line(text, at) if at and rest != said else None
    return said if line is None else f"{file}: line {line}, {rest}"


def _line(text: str, at: At) -> int | None:
    """That of the key, else of where its table begins, of the whole file at its top; None where
    that is not plain."""
    lines = text.split("\n")  # and at no other sign: to TOML, and to an editor, none ends a line
    whole = _read(lines)
    wanted = at if _has(whole, at) else at[:-1]
    if not wanted:
        return 1
    if not _has(whole, wanted):  # changed since
        return None
    low, high = 0, len(lines)  # of so many lines none has it, of so many one
    before: dict[str, Any] = {}
    tries = MOST_READ
    while places := _between(low, high):
        for middle in places:
            tries -= 1
            if (read := _read(lines[:middle])) is not None or not tries:
                break
        if not tries:
            return None
        if read is None:  # one value goes over all of these lines
            return low + 1 if _has(before, wanted[:-1]) else None  # else which of its keys?
        if _has(read, wanted):
            high = middle
        else:
            low, before = middle, read
    return high


def _between(low: int, high: int) -> list[int]:
    """All that is between, from the middle down, then up."""
    middle = (low + high) // 2
    return [*range(middle, low, -1), *range(middle + 1, high)]


def _read(lines: Sequence[str]) -> dict[str, Any] | None:
    """The beginning of a file, what is open at its end closed; None where it ends in a word."""
    text = "\n".join(lines)
    for end in CLOSED:
        with suppress(ValueError):
            return tomllib.loads(text + end)
    return None


def _has(read: Any, at: At) -> bool:
    for step in at:
        if isinstance(step, int):
            if not isinstance(read, list) or step >= len(read):
                return False
        elif not isinstance(read, dict) or step not in read:
            return False
        read = read[step]
    return True
