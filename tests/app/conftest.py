"""No test here is timed: the first to need a unit waits for the library of units."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings
from support.live_cups import cup

from mixer.record.journal import Journal

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """A record with one live cup."""
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append(cup(1))
    return path
