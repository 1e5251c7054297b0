"""A small file is read whole or not at all, and written whole or not at all."""

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.files import small_store


def test_what_is_written_is_read_again_and_a_missing_file_is_empty(tmp_path: Path) -> None:
    store = tmp_path / "new folder" / "tags.json"
    assert small_store.read(store, "tags", str) == {}
    small_store.write(store, "tags", {"7": "left wing"})
    assert small_store.read(store, "tags", str) == {"7": "left wing"}
    assert os.listdir(store.parent) == ["tags.json"]


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"v": 2, "tags": {}}', '{"v": 1, "tags": {"7": 7}}', "[" * 10_000]
)
def test_what_is_none_of_its_kind_is_damaged(text: str, tmp_path: Path) -> None:
    store = tmp_path / "tags.json"
    store.write_text(text)
    with pytest.raises(small_store.Damaged):
        small_store.read(store, "tags", str)


def test_a_file_of_any_size_is_read_to_its_limit(tmp_path: Path) -> None:
    store = tmp_path / "tags.json"
    store.write_bytes(b'{"v": 1, "tags": {}}' + b" " * 2 * small_store.LARGEST)
    assert small_store.read(store, "tags", str) == {}


@given(data=st.binary(max_size=60))
def test_no_bytes_raise_anything_else(
    data: bytes, tmp_path_factory: pytest.TempPathFactory
) -> None:
    store = tmp_path_factory.getbasetemp() / "any.json"
    store.write_bytes(data)
    with pytest.raises(small_store.Damaged):
        small_store.read(store, "tags", str)


def test_a_write_that_fails_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = tmp_path / "tags.json"
    small_store.write(store, "tags", {"7": "left wing"})

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        small_store.write(store, "tags", {"7": "right wing"})
    assert small_store.read(store, "tags", str) == {"7": "left wing"}
    assert os.listdir(tmp_path) == ["tags.json"]
