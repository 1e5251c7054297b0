"""On which line of a layup's file, or of a cloth's, a slip stands: TOML, once read, does not
tell.

It is looked for by reading the beginning of the file again, up to the end of one statement or
another. Must never name a wrong line: where it is not plain, none is named.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from mixer.app.files.toml_table import At, ProfileError

#: A value of more lines than this ends the search: each of them is read anew.
LONGEST_VALUE = 50


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
    """
    rest = said.removeprefix(f"{file}: ")
    line = _line(text, at) if at and rest != said else None
    return said if line is None else f"{file}: line {line}, {rest}"


def _line(text: str, at: At) -> int | None:
    """That of the key, else of where its table begins; None where that is not plain."""
    lines = text.split("\n")  # and at no other sign: to TOML, and to an editor, none ends a line
    try:
        wanted = at if _has(tomllib.loads(text), at) else at[:-1]
        ends = _ends(lines)
        if not wanted:
            return None
        low, high = 0, len(ends)  # of so many statements none has it, of so many one
        while high - low > 1:
            middle = (low + high) // 2
            read = tomllib.loads("\n".join(lines[: ends[middle - 1]]))
            low, high = (low, middle) if _has(read, wanted) else (middle, high)
        start = ends[low - 1] if low else 0
        if ends[low] - start > LONGEST_VALUE:
            return None
        if ends[low] - start > 1:  # it may stand on any of these lines, but for the first key
            before = tomllib.loads("\n".join(lines[:start]))
            if not _has(before, wanted[:-1]):
                return None
    except ValueError:  # changed since
        return None
    return start + 1


def _ends(lines: Sequence[str]) -> list[int]:
    """The number of the last line of each statement, a blank line being one. What is too long
    has all that follows too."""
    ends, start = list[int](), 0
    for end in range(1, len(lines) + 1):
        if end - start > LONGEST_VALUE:
            break
        try:
            tomllib.loads("\n".join(lines[start:end]))
        except tomllib.TOMLDecodeError:
            continue  # it goes on
        ends.append(end)
        start = end
    return ends if start == len(lines) else [*ends, len(lines)]


def _has(read: Any, at: At) -> bool:
    for step in at:
        if isinstance(step, int):
            if not isinstance(read, list) or step >= len(read):
                return False
        elif not isinstance(read, dict) or step not in read:
            return False
        read = read[step]
    return True
