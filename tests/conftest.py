"""Tests never touch a person's own configuration or record, and foretell nothing unless they
say so: a process for each bench would take most of their time."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings
from support.minds import AtOnce, Nobody

# The suite draws a few of each law in its few minutes; `pytest --hypothesis-profile=default`
# draws hypothesis's own hundred. No law is a matter of time.
settings.register_profile("suite", max_examples=30, deadline=None)
settings.load_profile("suite")


@pytest.fixture(autouse=True)
def _own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("CUPSIDE_CONFIG", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    monkeypatch.setenv("CUPSIDE_RECORD", str(tmp_path / "record.cupside"))


@pytest.fixture(autouse=True)
def _nothing_foretold(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("mixer.app.life.clocks.Seer", Nobody)


@pytest.fixture
def foretold(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is asked of how long a cup lives is answered, at once and in this process."""
    monkeypatch.setattr("mixer.app.life.clocks.Seer", AtOnce)
