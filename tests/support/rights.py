"""Without the rights of whoever runs the tests."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mixer.record.journal import Journal
from support.facts import poured


@contextmanager
def as_somebody() -> Iterator[None]:
    """Without the rights of root, where the tests have them."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


@contextmanager
def where_anybody_may_write() -> Iterator[Path]:
    """A record in a folder of everybody's."""
    with tempfile.TemporaryDirectory() as name:
        record = Path(name) / "record"
        with Journal.open(record) as journal:
            journal.append(poured())
        record.parent.chmod(0o777)
        yield record
