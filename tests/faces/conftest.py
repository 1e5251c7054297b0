"""A counter scale on a pseudo-terminal, and the real command at it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from support.command import Mix, bench


@pytest.fixture
def mix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Mix]:
    with bench(tmp_path, monkeypatch) as at_hand:
        yield at_hand
