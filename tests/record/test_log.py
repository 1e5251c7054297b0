"""SQLite's log with a damaged part: what stood behind it is gone, and that is said."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from shutil import copyfile
from struct import pack, unpack

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import fact, live, opened

from mixer.app.book.looking import export_csv, table, verify
from mixer.app.life.live import look
from mixer.cli import main
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.log import damaged
from mixer.record.reader import Reader

FRAME = 24 + 4096
CALLS = 8


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record as a kill leaves it: eight calls, all of them in the log alone."""
    folder = tmp_path_factory.mktemp("killed")
    with Journal.open(folder / "open") as journal:
        journal._db.execute("PRAGMA wal_autocheckpoint = 0")
        journal.append([opened()])
        for n in range(CALLS - 1):
            journal.append([fact("noted", text="x" * 9000, at_ms=n)])
        for end in ("", "-wal"):
            copyfile(f"{folder / 'open'}{end}", f"{folder / 'record'}{end}")
    return folder / "record"


@pytest.fixture
def record(killed: Path, tmp_path: Path) -> Path:
    for end in ("", "-wal"):
        copyfile(f"{killed}{end}", f"{tmp_path / 'record'}{end}")
    return tmp_path / "record"


def log_of(record: Path) -> Path:
    return record.with_name(record.name + "-wal")


def ends(record: Path) -> list[int]:
    """The numbers of the frames that end a call, counted from 0."""
    log = log_of(record).read_bytes()
    frames = range(32, len(log), FRAME)
    return [n for n, at in enumerate(frames) if unpack(">I", log[at + 4 : at + 8]) != (0,)]


def turn(record: Path, at: int) -> None:
    log = bytearray(log_of(record).read_bytes())
    log[at] ^= 1
    log_of(record).write_bytes(log)


@pytest.mark.parametrize("what", ["another record", "a later copy"])
def test_a_file_that_another_log_hides_is_not_written_over(
    record: Path, tmp_path: Path, what: str
) -> None:
    """A copy that is put back in the place of a record whose log still lies there."""
    log, copy = log_of(record).read_bytes(), tmp_path / "copy"
    if what == "a later copy":
        with Journal.open(record) as journal:
            journal.append([fact("noted", text="later")])
            journal.backup(copy)
    else:
        with Journal.open(tmp_path / "other") as journal:
            journal.append([opened(size_ug=1)])
            journal.backup(copy)
    copyfile(copy, record)
    log_of(record).write_bytes(log)
    hidden = CALLS + 1 if what == "a later copy" else 1
    for _ in range(2):
        with Reader.look(record) as reader:
            found = reader.verify()
        assert not found.ok
        assert "record-wal, is not its own" in found.say
        assert f"has a fact {hidden}:" in found.say
        with pytest.raises(RecordError, match=r"Nothing was stored\. What lies beside"):
            Journal.open(record)
        assert record.read_bytes() == copy.read_bytes()
        assert log_of(record).read_bytes() == log


def test_a_log_that_is_whole_is_none_that_is_damaged(record: Path) -> None:
    assert not damaged(record)
    assert verify(record, None).facts == CALLS


@pytest.mark.parametrize("part", ["number", "salt", "sum", "page", "head"])
def test_one_bit_in_any_call_but_the_last_is_said(record: Path, part: str) -> None:
    at = {"number": 1, "salt": 9, "sum": 17, "page": 24 + 2000}
    whole = log_of(record).read_bytes()
    last = ends(record)
    for frame in range(last[-3] + 1 if part != "head" else 1):
        place = 32 + frame * FRAME + at[part] if part != "head" else 17
        log_of(record).write_bytes(whole)
        turn(record, place)
        assert damaged(record), frame
    found = verify(record, None)
    assert not found.ok
    assert found.facts < CALLS
    assert f"facts after fact {found.facts} may be missing" in found.say


def test_in_the_last_call_but_one_too(record: Path) -> None:
    turn(record, 32 + ends(record)[-2] * FRAME + 3000)
    assert damaged(record)
    assert verify(record, None).facts == CALLS - 2


@pytest.mark.parametrize("lost", [0, 1])
def test_a_last_call_that_a_power_cut_tore_is_no_damage(record: Path, lost: int) -> None:
    """Its last page came to the disk before another one of it: it was never stored."""
    log = bytearray(log_of(record).read_bytes())
    first = 32 + (ends(record)[-2] + 1 + lost) * FRAME
    log[first : first + FRAME] = bytes(FRAME)
    log_of(record).write_bytes(log)
    assert not damaged(record)
    assert verify(record, None).ok
    assert verify(record, None).facts == CALLS - 1


@pytest.mark.parametrize("cut", range(0, 5 * FRAME, 611))
def test_a_log_that_was_cut_off_is_no_damage(record: Path, cut: int) -> None:
    log = log_of(record).read_bytes()
    log_of(record).write_bytes(log[: len(log) - cut])
    assert not damaged(record)


def test_what_an_earlier_round_left_behind_is_no_damage(record: Path) -> None:
    with Journal.open(record) as journal:
        journal._db.execute("PRAGMA wal_checkpoint(RESTART)")
        journal.append([fact("noted", text="after")])
        assert log_of(record).stat().st_size > 10 * FRAME
        assert not damaged(record)
        assert journal.verify().ok


def test_a_long_log_that_is_cut_off_takes_nothing_out_of_the_file(tmp_path: Path) -> None:
    """Of a log that was brought into the record and still stands, a piece would lay the old
    pages over the newer ones."""
    whole, cut, alone = tmp_path / "whole", tmp_path / "cut", tmp_path / "alone"
    with Journal.open(whole) as journal:
        journal.append([opened()])
        for n in range(8):
            journal.append([fact("noted", text="x" * 600_000, at_ms=n)])
            log = log_of(whole).read_bytes()
            for copy in (cut, alone):
                copyfile(whole, copy)
            log_of(cut).write_bytes(log[: len(log) // 3])
            with Journal.read(alone) as reader:
                facts, _ = reader.head()
            with Journal.open(cut) as again:
                assert again.head()[0] >= facts
                again.append([fact("noted", text="after", at_ms=n)])
                assert again.verify().ok
    assert facts, "the log was never brought into the record"


def test_nor_is_one_of_nothing_but_zeros(record: Path) -> None:
    log_of(record).write_bytes(bytes(20 * FRAME))
    assert not damaged(record)


def test_before_it_is_written_over_it_is_kept_and_said_for_as_long(
    record: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    turn(record, 32 + ends(record)[3] * FRAME + 3000)
    log = log_of(record).read_bytes()
    for _ in range(2):
        with Journal.open(record) as journal:
            assert "facts after fact 3 may be missing" in journal.lost.replace("Facts", "facts")
            journal.append([fact("noted", text="gone on")])
    kept = tmp_path / "record-wal-damaged-after-3"
    assert [one.name for one in tmp_path.iterdir() if "damaged" in one.name] == [kept.name]
    assert kept.read_bytes() == log
    with Reader.look(record) as reader:
        assert reader.head()[0] == 5
    assert main(["record", "verify", "--record", str(record)]) == 1
    said = capsys.readouterr().out
    assert said == f"{table(record).stand.trouble}\n"
    assert said.startswith("Facts after fact 3 may be missing from the record")
    assert export_csv(record, tmp_path / "table.csv").stand.trouble
    kept.rename(tmp_path / "elsewhere")
    assert verify(record, None).ok


def test_no_number_that_stands_in_a_damaged_log_is_given_again(tmp_path: Path) -> None:
    """Cup 2 of batch 2 stands on the bench, and no fact of it can be read."""
    record = tmp_path / "record"
    with Journal.open(tmp_path / "open") as journal:
        for number in (1, 2):
            journal.open_batch(opened())
            journal.append([live(number, cup=number)])
        for end in ("", "-wal"):
            copyfile(f"{tmp_path / 'open'}{end}", f"{record}{end}")
    turn(record, log_of(record).read_bytes().index(b'"batch":2,') + 8)
    with Journal.open(record) as journal:
        assert journal.head()[0] == 2
        found = look(journal, record)
        assert (len(found.cups), found.free_number()) == (1, 3)
        assert "(1, 2): one may be live" in found.say
        assert journal.open_batch(opened()) > 2
    (tmp_path / "record-wal-damaged-after-2").rename(tmp_path / "elsewhere")
    with Journal.open(record) as journal:
        assert look(journal, record).free_number() == 2


def test_another_one_of_the_same_place_is_kept_too(record: Path, tmp_path: Path) -> None:
    kept = tmp_path / "record-wal-damaged-after-0"
    kept.write_bytes(b"of another time")
    turn(record, 32 + 3000)
    Journal.open(record).close()
    assert kept.read_bytes() == b"of another time"
    assert len([one for one in tmp_path.iterdir() if "damaged" in one.name]) == 2


def test_where_none_can_be_kept_nothing_is_written(
    record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_: object) -> None:
        raise OSError(28, "No space left on device")

    turn(record, 32 + 3000)
    log = log_of(record).read_bytes()
    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(RecordError, match="no copy of it can be kept: No space left"):
        Journal.open(record)
    assert log_of(record).read_bytes() == log
    assert not any("damaged" in one.name for one in tmp_path.iterdir())


def test_sums_are_also_reckoned_the_other_way_round(record: Path) -> None:
    """As a computer writes it whose numbers begin with their largest part."""
    log = bytearray(log_of(record).read_bytes())
    log[:4] = pack(">I", 0x377F0683)

    def summed(data: bytes, one: int, two: int) -> tuple[int, int]:
        words = unpack(f">{len(data) // 4}I", data)
        for first, second in zip(words[::2], words[1::2], strict=True):
            one = (one + first + two) % 2**32
            two = (two + second + one) % 2**32
        return one, two

    sums = summed(log[:24], 0, 0)
    log[24:32] = pack(">2I", *sums)
    for at in range(32, len(log), FRAME):
        sums = summed(log[at : at + 8] + log[at + 24 : at + FRAME], *sums)
        log[at + 16 : at + 24] = pack(">2I", *sums)
    log_of(record).write_bytes(log)
    assert not damaged(record)
    assert verify(record, None).facts == CALLS
    turn(record, 32 + 3000)
    assert damaged(record)


@pytest.mark.parametrize("head", ["two bits", "a sector"])
def test_a_head_that_is_damaged_with_the_first_page_is_said(record: Path, head: str) -> None:
    log = bytearray(log_of(record).read_bytes())
    if head == "two bits":
        log[20] ^= 1
        log[40] ^= 1
    else:
        log[:512] = bytes(512)
    log_of(record).write_bytes(log)
    assert damaged(record)
    assert not verify(record, None).ok


def test_of_one_call_behind_a_damaged_head_too(tmp_path: Path) -> None:
    """The head is on the disk before any page is written."""
    with Journal.open(tmp_path / "open") as journal:
        journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        journal.append([opened()])
        for end in ("", "-wal"):
            copyfile(f"{tmp_path / 'open'}{end}", f"{tmp_path / 'record'}{end}")
    turn(tmp_path / "record", 20)
    assert damaged(tmp_path / "record")


@pytest.mark.parametrize("part", ["number", "size", "salt", "sum", "page"])
@pytest.mark.parametrize("bit", [0, 3, 7])
def test_one_bit_anywhere_in_the_end_of_the_last_call_but_one(
    record: Path, part: str, bit: int
) -> None:
    """It takes two calls, and what the last one says of it shows that it was stored."""
    at = {"number": 3, "size": 7, "salt": 12, "sum": 20, "page": 24 + 2000}[part]
    log = bytearray(log_of(record).read_bytes())
    log[32 + ends(record)[-2] * FRAME + at] ^= 1 << bit
    log_of(record).write_bytes(log)
    assert damaged(record)
    assert verify(record, None).facts == CALLS - 2


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same of small calls, of two pages each."""
    folder = tmp_path_factory.mktemp("small")
    with Journal.open(folder / "open") as journal:
        journal.append([opened()])
        journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        for n in range(20):
            journal.append([fact("noted", text="x" * 200, at_ms=n)])
        for end in ("", "-wal"):
            copyfile(f"{folder / 'open'}{end}", f"{folder / 'record'}{end}")
    return folder / "record"


@pytest.mark.parametrize("pages", [1, 2, 4, 16])
def test_a_longer_damage_takes_no_more_than_the_last_call_unseen(
    small: Path, tmp_path: Path, pages: int
) -> None:
    record = tmp_path / "record"
    whole = log_of(small).read_bytes()
    for start in range(0, len(whole) - pages * 4096, 4096):
        copyfile(small, record)
        log = bytearray(whole)
        log[start : start + pages * 4096] = bytes(pages * 4096)
        log_of(record).write_bytes(log)
        last = start + pages * 4096 > 32 + (ends(small)[-1] - 1) * FRAME
        assert last or damaged(record), start


@given(
    calls=st.lists(st.integers(1, 4), min_size=1, max_size=6),
    gone=st.sets(st.integers(0, 11), max_size=12),
)
@settings(max_examples=40, deadline=None)
def test_whatever_of_the_last_call_a_power_cut_left_out_is_no_damage(
    calls: list[int], gone: set[int]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        record, ended = Path(folder) / "record", 0
        with Journal.open(record) as journal:
            journal._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            for number, facts in enumerate(calls):
                ended = log_of(record).stat().st_size if number else 32
                journal.append([fact("noted", text="x" * 3000)] * facts)
            log = bytearray(log_of(record).read_bytes())
            for place in gone:
                at = ended + place * FRAME
                if at < len(log):
                    log[at : at + FRAME] = bytes(FRAME)
            if any(ended + place * FRAME < len(log) for place in gone):
                copy = Path(folder) / "copy"
                log_of(copy).write_bytes(log)
                assert not damaged(copy)
