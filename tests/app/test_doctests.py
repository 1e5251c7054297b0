"""Every example in the docstrings of the application and its line faces runs."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import mixer.app

NAMES = [found.name for found in pkgutil.walk_packages(mixer.app.__path__, "mixer.app.")]
NAMES += ["mixer.cli", "mixer.console", "mixer.units"]


@pytest.mark.parametrize("name", NAMES)
def test_examples(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def test_there_are_examples_to_run() -> None:
    found = [
        test
        for name in NAMES
        for test in doctest.DocTestFinder().find(importlib.import_module(name))
        if test.examples
    ]
    assert len(found) >= 60
