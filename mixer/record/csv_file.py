"""The file of an export: UTF-8, a comma between cells, one line of names; for a spreadsheet.

It must never leave half a file where a whole one stood, write over something that is no
export, or let a text of the user run as a formula in the spreadsheet that opens it.
"""

from __future__ import annotations

import contextlib
import os
import re
import unicodedata
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from mixer.record.envelope import RecordError
from mixer.record.export import COLUMNS
from mixer.record.parts import owner

_CHUNK = 1000  # rows made into text at once: a hundred thousand take a gigabyte
_QUOTES = frozenset("'\"`´‘’‚‛“”„‟«»‹›")
_STARTS_FORMULA = frozenset("=+-@\N{MINUS SIGN}")
#: Line ends and other control characters: a batch stays on one line of the file.
_CONTROLS = re.compile(r"\r\n|[\x00-\x1f\x7f-\x9f\u2028\u2029]")
#: How an export begins, also one that a spreadsheet has saved.
_BEGINS = re.compile(rb'(\xef\xbb\xbf)?"?batch"?[,;\t]"?cup"?[,;\t]"?opened_utc\b')


def write_csv(rows: Sequence[Mapping[str, Any]], path: Path | str) -> None:
    """Write the rows of an export to ``path``, whole or not at all.

    An export that is already there, or an empty file, is replaced. What cannot be
    written is a :class:`RecordError`, and the old file stands.
    """
    path = Path(os.path.realpath(path))  # a link keeps pointing at what it points at
    further = dict.fromkeys(name for row in rows for name in row if name not in COLUMNS)
    names = [*COLUMNS, *further]
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        _look_before_writing(path)
        import pandas as pd  # takes most of a second: nobody but an export waits for it

        head = [_cell(name) for name in names]
        try:
            with part.open("w", encoding="utf-8", newline="") as file:
                for first in range(0, len(rows) or 1, _CHUNK):
                    some = rows[first : first + _CHUNK]
                    cells = [[_cell(row.get(name)) for name in names] for row in some]
                    table = pd.DataFrame(cells, columns=head, dtype=object)
                    table.to_csv(file, index=False, header=not first, lineterminator="\n")
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        finally:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
    except OSError as err:
        raise RecordError(f"The CSV cannot be written to {path}: {err.strerror}.") from None


def harmless(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would run it.

    A formula starts with ``=``, ``+``, ``-``, ``@``, a tab or a carriage return, also
    behind blanks and quotes and in full-width form.

    >>> harmless("=1+1"), harmless("wing root, left")
    ("'=1+1", 'wing root, left')
    """
    if text[:1] in {"\t", "\r"}:
        return "'" + text
    for char in text:
        if unicodedata.normalize("NFKC", char)[:1] in _STARTS_FORMULA:
            return "'" + text
        # Separators, controls and marks without width do not shield what follows.
        if char not in _QUOTES and unicodedata.category(char) not in {"Zs", "Zl", "Zp", "Cc", "Cf"}:
            break
    return text


def _cell(value: object) -> str:
    """What stands in the file: numbers in plain digits, texts harmless and on one line."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        value = Decimal(repr(value))  # the shortest decimal that names this float
    if isinstance(value, Decimal):
        return format(value, "f")
    return _CONTROLS.sub(" ", harmless(str(value)))


def _look_before_writing(path: Path) -> None:
    if not path.parent.is_dir():
        raise RecordError(f"The CSV cannot be written to {path}: there is no folder {path.parent}.")
    if used := owner(path):
        raise RecordError(
            f"The CSV cannot be written to {path}: that is a part of the record {used.name}."
        )
    if not path.exists():
        return
    if not path.is_file():
        raise RecordError(f"The CSV cannot be written to {path}: that is not a file.")
    with path.open("rb") as file:
        start = file.read(1024)
    if start and not _BEGINS.match(start):  # the record itself, for one, given by mistake
        raise RecordError(
            f"The CSV cannot be written to {path}: what stands there is no export of "
            "a record, and was not overwritten."
        )
