"""The examples in the docstrings run."""

from __future__ import annotations

import doctest
import importlib

import pytest


@pytest.mark.parametrize("name", ["afterwards", "cloth", "layup", "outlines"])
def test_examples(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(f"mixer.plan.{name}"))
    assert tried > 0
    assert failed == 0
