"""Without the rights of whoever runs the tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager


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
