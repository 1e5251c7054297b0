"""The examples in the docstrings run."""

from __future__ import annotations

import doctest
import importlib

import pytest


@pytest.mark.parametrize(
    "name",
    [
        *("envelope", "chain", "folding", "stored", "corrections", "telling", "export", "parts"),
        *("trace", "cups", "later", "lock", "mending", "views"),
    ],
)
def test_examples(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(f"mixer.record.{name}"))
    assert tried > 0
    assert failed == 0
