"""On which line of a layup's file, or of a cloth's, a slip stands: TOML, once read, does not
tell.

Must never name a wrong line: where it is not plain, none is named.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mixer.app.files.toml_table import ProfileError

_WHERE = re.compile(r"(?:step (\d+), (?:ply (\d+), )?)?([A-Za-z0-9_-]+): ")
_STEP = re.compile(r"\s*\[\[\s*step\s*\]\]")
_PLY = re.compile(r"\s*\[\[\s*step\s*\.\s*ply\s*\]\]")
_KEY = re.compile(r"\s*[\"']?([A-Za-z0-9_-]+)[\"']?\s*=")


@contextmanager
def with_line(path: Path) -> Iterator[None]:
    """Within, a :class:`ProfileError` about this file, which was read, has its line too."""
    try:
        yield
    except ProfileError as error:
        text = path.read_text(encoding="utf-8-sig")
        raise ProfileError(placed(str(error), str(path), text)) from None


def placed(said: str, file: str, text: str) -> str:
    """The sentence about this file with the line of what it is about, if that can be told.

    >>> text = "[[step]]\\nname = 'skin'\\n\\n[[step.ply]]\\nfabric = 'bid'\\n"
    >>> placed("a.toml: step 1, ply 1, fabric: 'bid' was read", "a.toml", text)
    "a.toml: line 5, step 1, ply 1, fabric: 'bid' was read"
    >>> placed("a.toml: step 1, ply 1, shape: is missing", "a.toml", text)
    'a.toml: line 4, step 1, ply 1, shape: is missing'
    """
    rest = said.removeprefix(f"{file}: ")
    where = _WHERE.match(rest) if rest != said else None
    if where is None or '"""' in text or "'''" in text:
        return said
    line = _line(text, int(where[1] or 0), int(where[2] or 0), where[3])
    return said if line is None else f"{file}: line {line}, {rest}"


def _line(text: str, step: int, ply: int, key: str) -> int | None:
    """That of the key, else of the head of its table; None where its table is not found."""
    steps, plies, is_known, head = 0, 0, True, None
    for number, line in enumerate(text.splitlines(), 1):
        if _STEP.match(line):
            steps, plies, is_known = steps + 1, 0, True
        elif _PLY.match(line):
            plies, is_known = plies + 1, True
        elif line.lstrip().startswith("["):
            is_known = False  # a table that no layup has
        here = is_known and (steps, plies) == (step, ply)
        if here and (found := _KEY.match(line)) and found[1] == key:
            return number
        if here and head is None:
            head = number
    return head if step else None
