"""A record given by a link: what SQLite keeps beside it stands beside the file itself."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from shutil import copyfile

import pytest
from support.facts import live, poured
from support.rights import as_somebody

from mixer.record.envelope import RecordError
from mixer.record.journal import Journal


@pytest.fixture
def folders() -> Iterator[tuple[Path, Path]]:
    """The folder of a record, and one with a link to it; open to all."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        real, links = Path(name) / "real", Path(name) / "links"
        for folder in (real, links):
            folder.mkdir()
            folder.chmod(0o777)
        try:
            yield real, links
        finally:
            for folder in (real, links):
                folder.chmod(0o755)


def linked(folders: tuple[Path, Path]) -> tuple[Path, Path]:
    real, links = folders
    (links / "link").symlink_to(real / "record")
    return real / "record", links / "link"


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
@pytest.mark.parametrize("closed", ["real", "links", "both"])
def test_what_stands_in_the_log_is_read_by_a_link(folders: tuple[Path, Path], closed: str) -> None:
    """As after a power cut, in folders that may not be written to."""
    path, link = linked(folders)
    with Journal.open(path.with_name("first")) as journal:
        journal.append(poured())
        journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        journal.append([live()])  # in the log alone
        for end in ("", "-wal"):
            copyfile(f"{journal.path}{end}", f"{path}{end}")
            Path(f"{path}{end}").chmod(0o444)
    for folder in folders:
        if closed in (folder.name, "both"):
            folder.chmod(0o555)
    with as_somebody(), Journal.read(link) as reader:
        assert list(reader.entries()) == [*poured(), live()]
        assert reader.verify().facts == 8


def test_a_log_beside_a_link_is_none_of_its_record(folders: tuple[Path, Path]) -> None:
    path, link = linked(folders)
    with Journal.open(link) as journal:
        for batch in range(1, 30):
            journal.append(poured(batch))
    path.write_bytes(path.read_bytes()[:-5000])
    link.with_name("link-wal").write_bytes(b"something else")
    with Journal.read(link) as reader:
        assert "was cut off" in reader.torn


def test_nothing_is_moved_out_of_the_log_at_each_fact(folders: tuple[Path, Path]) -> None:
    """It was taken for deleted, as no log stands beside a link."""
    path, link = linked(folders)
    with Journal.open(link) as journal:
        journal.append(poured())
        before = path.read_bytes()
        journal.append([live()])
        assert path.read_bytes() == before
        assert journal.verify().facts == 8


@pytest.mark.parametrize("kind", ["", "-lock", "-wal", "-shm", "-journal"])
def test_no_copy_goes_over_a_part_of_what_a_link_points_at(
    folders: tuple[Path, Path], kind: str
) -> None:
    path, link = linked(folders)
    with Journal.open(link) as journal:
        journal.append(poured())
        with pytest.raises(RecordError, match=r"a part of the record|the record itself"):
            journal.backup(path.with_name(path.name + kind))
        journal.append([live()])
        assert journal.verify().facts == 8


def test_a_link_to_a_stick_that_is_not_there_makes_no_folder(folders: tuple[Path, Path]) -> None:
    real, links = folders
    (links / "link").symlink_to(real / "stick" / "record")
    with pytest.raises(RecordError, match="cannot be opened"):
        Journal.open(links / "link")
    assert not (real / "stick").exists()
