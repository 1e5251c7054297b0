"""What README has of commands is taken by the command line, as far as its words go."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from mixer.cli import _parser

README = Path(__file__).parents[2] / "README.md"
FOUND = re.findall(r"^cupside ((?!sits ).+)$|`cupside ([^` ]+ [^`]+)`", README.read_text(), re.M)


@pytest.mark.parametrize("line", sorted({one or other for one, other in FOUND}))
def test_an_example_is_taken(line: str) -> None:
    words = shlex.split(line)
    assert _parser(others=words[0] != "mix").parse_args(words).run


def test_there_are_such_examples() -> None:
    assert len(FOUND) >= 35
