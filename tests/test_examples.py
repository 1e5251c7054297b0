"""Every example in a docstring says what is so."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import devices
import mixer

NAMES = sorted(
    found.name
    for package in (devices, mixer)
    for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    if not found.ispkg and not found.name.endswith("__main__")
)


@pytest.mark.parametrize("name", NAMES)
def test_examples(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_in_every_room() -> None:
    finder = doctest.DocTestFinder()
    of = [
        name.rpartition(".")[0]
        for name in NAMES
        for test in finder.find(importlib.import_module(name))
        if test.examples
    ]
    rooms = {name.rpartition(".")[0] for name in NAMES}
    assert rooms - set(of) <= {"mixer.commands"}  # what a command does is shown by running it
    assert len(of) > 250
