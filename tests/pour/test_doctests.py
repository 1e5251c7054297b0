"""Every example in the docstrings of the pour runs."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import mixer.pour

NAMES = [f"mixer.pour.{found.name}" for found in pkgutil.iter_modules(mixer.pour.__path__)]


@pytest.mark.parametrize("name", NAMES)
def test_examples(name: str) -> None:
    failed, _ = doctest.testmod(importlib.import_module(name))
    assert failed == 0


def test_there_are_examples_to_run() -> None:
    finder = doctest.DocTestFinder()
    found = [one for name in NAMES for one in finder.find(importlib.import_module(name))]
    assert sum(bool(one.examples) for one in found) >= 10
