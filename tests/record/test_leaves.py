"""Facts found in the pages of a damaged record, where its tables do not lead to them."""

from __future__ import annotations

import os
import sqlite3
import tarfile
from contextlib import closing
from pathlib import Path
from random import Random
from shutil import copyfile

import pytest
from support.command import one_sentence
from support.facts import fact, live, poured

from mixer.cli import main
from mixer.record.journal import Journal
from mixer.record.leaves import Pages
from mixer.record.mending import mend
from mixer.record.trace import Sample

Capture = pytest.CaptureFixture[str]
PAGE, BATCHES = 4096, 6
LONG = "what was seen of it, at length. " * 400  # runs over to several pages


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Batches with weights and long notes; the last is live."""
    path = tmp_path_factory.mktemp("whole") / "record"
    with Journal.open(path) as journal:
        for batch in range(1, BATCHES + 1):
            journal.append([*poured(batch), fact("noted", batch, text=LONG)])
            shown = [Sample(n * 100, n * n * 997_001 % 10**8, f"{n} g", False) for n in range(99)]
            for start in range(0, 99, 33):
                journal.add_trace(batch, shown[start : start + 33], "b1")
            journal.append([live(batch, cup=batch)])
            if batch < BATCHES:
                journal.append([fact("closed", batch, how="used-up", left_ug=None)])
    return path


@pytest.fixture
def record(whole: Path, tmp_path: Path) -> Path:
    return Path(copyfile(whole, tmp_path / "record"))


def facts_of(record: Path) -> dict[int, bytes]:
    with Journal.read(record) as reader:
        return dict(reader.sealed())


def weights_of(record: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(record)) as db:
        return db.execute("SELECT batch, block, bytes, hash FROM traces ORDER BY block").fetchall()


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def page_of(record: Path, name: str, kind: str) -> int:
    """Where the last page of this table begins, in bytes."""
    select = "SELECT max(pgoffset) FROM dbstat WHERE name = ? AND pagetype = ?"
    with closing(sqlite3.connect(record)) as db:
        return int(db.execute(select, (name, kind)).fetchone()[0])


STARTS = {"zero": bytes(PAGE), "ones": b"\xff" * PAGE, "noise": Random(1).randbytes(PAGE)}


@pytest.mark.parametrize("lost", [*STARTS, "root of facts", "one bit of its head"])
def test_a_record_without_its_first_page_has_all_its_facts_and_weights(
    record: Path, lost: str, capsys: Capture
) -> None:
    before, weights = facts_of(record), weights_of(record)
    raw = bytearray(record.read_bytes())
    if lost == "one bit of its head":
        raw[104] ^= 8  # fewer tables than there are (SQLite's file format, 1.6)
    else:
        raw[:PAGE] = STARTS.get(lost, raw[PAGE : 2 * PAGE])
    record.write_bytes(raw)
    assert run(record, "verify") == 1
    assert "try record rebuild" in "".join(capsys.readouterr())
    assert run(record, "rebuild") == 0
    told = capsys.readouterr()
    assert told.out.startswith(f"Built anew from {len(before)} facts; head: ")
    assert "kept as record-damaged" in told.err
    assert run(record, "verify") == 0
    assert before.items() <= facts_of(record).items()
    assert weights_of(record) == weights
    assert record.with_name("record-damaged").read_bytes() == raw


@pytest.mark.parametrize("start", STARTS)
def test_facts_in_the_log_of_a_record_without_its_first_page_are_found(
    tmp_path: Path, start: str, capsys: Capture
) -> None:
    """Killed in its first batch: nothing was brought into the record itself yet."""
    record = tmp_path / "killed"
    with Journal.open(tmp_path / "record") as journal:
        journal.append(poured())
        for end in ("", "-wal"):
            copyfile(f"{journal.path}{end}", f"{record}{end}")
    log = record.with_name("killed-wal")
    raw = bytearray(log.read_bytes())
    for at in range(32, len(raw), 24 + PAGE):  # SQLite's file format, 4.1
        if raw[at : at + 4] == b"\0\0\0\1":
            raw[at + 24 : at + 24 + PAGE] = STARTS[start]
    log.write_bytes(raw)
    record.write_bytes(STARTS[start] + record.read_bytes()[PAGE:])
    assert run(record, "list") == 2
    assert "try record rebuild" in capsys.readouterr().err
    assert run(record, "rebuild") == 0
    assert len(facts_of(record)) == len(poured()) + 1


@pytest.mark.parametrize("other", ["archive", "copied by hand", "photo", "export", "huge"])
def test_a_file_that_only_has_facts_in_it_is_another_s(
    record: Path, tmp_path: Path, other: str, capsys: Capture
) -> None:
    path = tmp_path / "other"
    if other == "archive":
        with tarfile.open(path, "w") as archive:
            archive.add(record, "record")
    elif other == "copied by hand":
        with closing(sqlite3.connect(path)) as db:
            db.execute("ATTACH ? AS of", [str(record)])
            db.execute("CREATE TABLE notes AS SELECT * FROM of.facts")
            db.commit()
    elif other == "photo":  # in the record's place, whose log still stands there
        path.write_bytes(Random(2).randbytes(50_001))
        with Journal.open(record) as journal:
            journal.append([fact("noted", 1, text="in the log")])
            copyfile(f"{record}-wal", f"{path}-wal")
    elif other == "export":
        path.write_bytes(b"".join(bytes(fact) + b"\n" for fact in facts_of(record).values()))
    else:
        with path.open("wb") as file:
            file.write(b"\xff" * PAGE)
            file.truncate(1 << 40)  # more than can be read
    before = {each.name: each.stat().st_mtime_ns for each in tmp_path.iterdir()}
    for words in (["list"], ["rebuild"]):
        assert run(path, *words) == 2
        assert "is not a build record but some other file" in capsys.readouterr().err
    path.with_name("other-shm").unlink(missing_ok=True)  # SQLite's own, beside a log
    assert {each.name: each.stat().st_mtime_ns for each in tmp_path.iterdir()} == before


@pytest.mark.parametrize("how", ["fewer cells", "no page of a table", "another's number"])
def test_the_newest_facts_are_found_in_a_page_that_hides_them(record: Path, how: str) -> None:
    before = facts_of(record)
    raw, page = bytearray(record.read_bytes()), page_of(record, "facts", "leaf")
    cells = int.from_bytes(raw[page + 3 : page + 5], "big")
    if how == "fewer cells":
        raw[page + 3 : page + 5] = (1).to_bytes(2, "big")
    elif how == "no page of a table":
        raw[page] ^= 1
    else:  # the last bit but one of the number of its newest row, behind two bytes of length
        cell = page + min(
            int.from_bytes(raw[page + 8 + 2 * n : page + 10 + 2 * n], "big") for n in range(cells)
        )
        raw[cell + 2] ^= 2
    record.write_bytes(raw)
    mended = mend(record, fact("mended"))
    assert mended.facts == len(before)
    assert not mended.lost
    after = facts_of(record)
    assert before.items() <= after.items()
    assert max(after) == max(before) + 1
    with Journal.read(record) as reader:
        assert reader.verify().ok
        assert reader.batches("live") == [BATCHES]


def test_facts_behind_a_damaged_part_of_the_log_are_found(record: Path, tmp_path: Path) -> None:
    kept = tmp_path / "killed"
    with Journal.open(record) as journal:
        for n in range(6):
            journal.append([fact("noted", 1, text=f"in the log {n}")])
        for end in ("", "-wal"):
            copyfile(f"{record}{end}", f"{kept}{end}")
    before = facts_of(record)
    log = kept.with_name("killed-wal")
    raw = bytearray(log.read_bytes())
    raw[32 + 24 + 100] ^= 1  # in the first page that stands in it
    log.write_bytes(raw)
    assert len(facts_of(kept)) < len(before)
    mended = mend(kept, fact("mended"))
    assert mended.facts == len(before)
    after = facts_of(kept)
    assert before.items() <= after.items()
    assert list(tmp_path.glob("killed-wal-damaged-after-*"))


def test_what_was_not_brought_to_an_end_in_the_log_is_none(record: Path, tmp_path: Path) -> None:
    torn = tmp_path / "torn"
    with Journal.open(record) as journal:
        journal.append([fact("noted", 1, text="stored")])
        before = facts_of(record)
        whole = os.path.getsize(f"{record}-wal")
        journal.append([fact("noted", 1, text=LONG)])
        for end in ("", "-wal"):
            copyfile(f"{record}{end}", f"{torn}{end}")
    os.truncate(f"{torn}-wal", os.path.getsize(f"{torn}-wal") - 1)
    assert whole < os.path.getsize(f"{torn}-wal")
    assert {found.seq for found in Pages(torn).facts()} == before.keys()


def test_a_tail_that_was_cut_off_is_named_and_its_numbers_are_not_given_again(
    record: Path, capsys: Capture
) -> None:
    before = facts_of(record)
    with closing(sqlite3.connect(record)) as db, db:
        db.execute("PRAGMA secure_delete = ON")  # nothing of them is left in the page
        db.execute("DELETE FROM facts WHERE batch = ? AND kind = 'live'", [BATCHES])
    assert run(record, "rebuild") == 1
    told = capsys.readouterr()
    assert one_sentence(told.out)
    assert told.err.startswith(f"Facts from {max(before)} on (of batch {BATCHES}) are missing")
    with Journal.read(record) as reader:
        assert reader.batches("live") == [BATCHES]
        assert reader.head()[0] > max(before)
    assert run(record, "verify") == 1
    assert run(record, "rebuild") == 1
    assert not record.with_name("record-damaged-2").exists()


def test_a_closed_cup_whose_last_fact_was_altered_is_not_live_again(record: Path) -> None:
    raw = record.read_bytes()
    at = raw.rindex(b'"kind":"closed"')
    record.write_bytes(raw[:at] + b'"kind":"klosed"' + raw[at + 15 :])
    mended = mend(record, fact("mended"))
    assert len(mended.lost.altered) == 1
    with Journal.read(record) as reader:
        assert reader.batches("live") == [BATCHES]
        assert "is not known for certain" in reader.verify().say


def test_weights_under_another_number_come_back_to_their_place(record: Path) -> None:
    blocks = [what[2:] for what in weights_of(record)]
    with closing(sqlite3.connect(record)) as db, db:
        db.execute("UPDATE traces SET block = 500 WHERE block = 2")
    assert not mend(record, fact("mended")).lost
    with Journal.read(record) as reader:
        assert reader.verify().ok
    after = [what[2:] for what in weights_of(record) if what[0] == 1]
    assert after == blocks[: len(after)]


def test_a_whole_record_is_built_anew_and_nothing_kept(record: Path, capsys: Capture) -> None:
    before = facts_of(record)
    assert run(record, "rebuild") == 0
    assert capsys.readouterr().err == ""
    assert facts_of(record) == before
    assert [one.name for one in record.parent.iterdir() if "damaged" in one.name] == []


@pytest.mark.parametrize("room", [0, 1])
def test_on_a_full_disk_nothing_is_left_behind(
    record: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, room: int
) -> None:
    with Journal.open(record) as journal:
        journal.append([fact("noted", 1, text="in the log")])
        raw, log = record.read_bytes(), Path(f"{record}-wal").read_bytes()
        copies = 0

        def full(source: Path, target: Path) -> None:
            nonlocal copies
            copies += 1
            Path(target).write_bytes(Path(source).read_bytes()[:100])
            if copies > room:
                raise OSError(28, "No space left on device")

        monkeypatch.setattr("mixer.record.parts.copyfile", full)
        assert run(record, "rebuild") == 2
        assert "room of its disk" in capsys.readouterr().err
        left = {one.name for one in record.parent.iterdir()}
        assert left <= {"record", "record-wal", "record-shm", "record-lock"}
        assert (record.read_bytes(), Path(f"{record}-wal").read_bytes()) == (raw, log)


@pytest.mark.parametrize("step", [1, 2])
def test_a_kill_before_the_new_file_stands_there_costs_nothing(
    record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    killed = tmp_path / "killed"
    with Journal.open(record) as journal:
        journal.append([fact("noted", 1, text="in the log alone")])
        for end in ("", "-wal"):
            copyfile(f"{record}{end}", f"{killed}{end}")
    before, put, steps = facts_of(killed), Path.replace, 0

    def replace(self: Path, target: Path) -> Path:
        nonlocal steps
        steps += 1
        if steps == step:
            raise KeyboardInterrupt
        return put(self, target)

    monkeypatch.setattr(Path, "replace", replace)
    with pytest.raises(KeyboardInterrupt):
        mend(killed, fact("mended"))
    assert killed.with_name("killed-wal").exists() == (step == 1)
    assert facts_of(killed) == before
