"""The examples in the window's docstrings, and in the visitor's."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import mixer.desk

NAMES = [
    "mixer.app.bench.visitor",
    *(f"mixer.desk.{m.name}" for m in pkgutil.iter_modules(mixer.desk.__path__)),
]


@pytest.mark.parametrize("name", NAMES)
def test_examples_say_what_is_so(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples() -> None:
    assert sum(doctest.testmod(importlib.import_module(name)).attempted for name in NAMES) > 10
