"""The examples in the docstrings of the devices are true."""

import doctest
import importlib

import pytest


@pytest.mark.parametrize(
    "name",
    [
        "devices.readings",
        "devices.dialects",
        "devices.dialects.sma",
        "devices.link",
        "devices.scale",
    ],
)
def test_examples(name: str) -> None:
    module = importlib.import_module(name)
    failed, _tried = doctest.testmod(module)
    assert failed == 0
