"""The examples in the docstrings run."""

from __future__ import annotations

import doctest
import importlib

import pytest


@pytest.mark.parametrize("name", ["laminate", "plain_rule", "thickened"])
def test_examples(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(f"mixer.science.{name}"))
    assert tried >= 4
    assert failed == 0
