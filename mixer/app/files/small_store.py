"""A small JSON file beside the user's own profiles: what was confirmed, what a tag means.

It is read whole or not at all, and written so that the whole new file or the whole old one
stands there whatever happens in between. Must never take a file of another program for one.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

T = TypeVar("T")

LARGEST = 1024 * 1024


class Damaged(ValueError):
    """What stands there is none of these files."""


def read(store: Path, what: str, of: type[T]) -> dict[str, T]:
    """Its content under the name ``what``, each a ``of``; empty where there is no file. Raises
    :class:`Damaged`, and OSError where it cannot be read."""
    try:
        with store.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        return {}
    try:
        content = json.loads(data[:LARGEST].decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise Damaged from error
    known = content.get(what) if isinstance(content, dict) and content.get("v") == 1 else None
    if not isinstance(known, dict) or not all(isinstance(one, of) for one in known.values()):
        raise Damaged
    return known


def write(store: Path, what: str, known: Mapping[str, Any], aside: Path | None = None) -> None:
    """Put this content there, and what stood there ``aside`` if that is given. Raises OSError;
    then what stood there stands there still."""
    temporary = ""
    try:
        store.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=store.name, suffix=".new", dir=store.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump({"v": 1, what: known}, file, indent=1, sort_keys=True)
            file.flush()
            os.fsync(file.fileno())
        if aside is not None:
            os.replace(store, aside)
        os.replace(temporary, store)
    except OSError:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)
        raise
