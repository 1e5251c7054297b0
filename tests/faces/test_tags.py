"""The meanings of numbered tags, by the command."""

from __future__ import annotations

import pytest
from support.command import one_sentence

from mixer.app import tag_meanings
from mixer.cli import main

Capture = pytest.CaptureFixture[str]


def test_a_numbered_tag_is_given_a_meaning_and_another(capsys: Capture) -> None:
    said = []
    for words in (["7"], ["7", "left wing top"], ["7"], ["7", "rib 3"], ["7", ""], ["7"]):
        assert main(["tag", *words]) == 0
        said.append(capsys.readouterr().out.strip())
    assert said == [
        "Tag 7: no meaning.",
        "Tag 7: left wing top.",
        "Tag 7: left wing top.",
        "Tag 7: rib 3. It was: left wing top.",
        "Tag 7: no meaning. It was: rib 3.",
        "Tag 7: no meaning.",
    ]


@pytest.mark.parametrize(
    "words", [["0"], ["1000", "rib"], ["7", "x" * 61], ["7", "a\nb"], ["7", "\x1b[2J"]]
)
def test_what_is_no_number_or_no_meaning_is_refused(words: list[str], capsys: Capture) -> None:
    assert main(["tag", *words]) == 2
    assert one_sentence(capsys.readouterr().err)
    assert not tag_meanings.default_store().exists()


@pytest.mark.parametrize(
    "data", [b"{", b"[]", b'{"v": 2, "tags": {}}', b'{"v": 1, "tags": {"7": 1}}', b"\xff"]
)
def test_meanings_that_are_damaged_are_said_and_not_written_over(
    data: bytes, capsys: Capture
) -> None:
    store = tag_meanings.default_store()
    store.parent.mkdir(parents=True)
    store.write_bytes(data)
    for words in (["7"], ["7", "rib 3"]):
        assert main(["tag", *words]) == 2
        assert "is damaged" in capsys.readouterr().err
    assert store.read_bytes() == data


def test_a_meaning_that_cannot_be_kept_is_said(capsys: Capture) -> None:
    folder = tag_meanings.default_store().parent
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("", encoding="utf-8")  # a file where the folder should be
    assert main(["tag", "7", "rib 3"]) == 2
    assert one_sentence(capsys.readouterr().err)
