"""A record with a damaged part: there is a way on, and what was lost is named for good."""

from __future__ import annotations

import os
import sqlite3
import stat
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from shutil import copyfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.command import one_sentence
from support.facts import fact, live, opened, poured
from support.rights import as_somebody, where_anybody_may_write

from mixer.app.life.live import look
from mixer.cli import main
from mixer.record.envelope import RecordError
from mixer.record.journal import Journal
from mixer.record.mending import mend
from mixer.record.trace import Sample

Capture = pytest.CaptureFixture[str]
PAGE, SECTOR = 4096, 512
BATCHES = 9


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Nine batches with their weights, of which the fifth and the last are live."""
    path = tmp_path_factory.mktemp("whole") / "record"
    with Journal.open(path) as journal:
        journal.claim()
        for batch in range(1, BATCHES + 1):
            journal.append(poured(batch))
            shown = [Sample(n * 100, n * n * 997_001 % 10**8, f"{n} g", False) for n in range(150)]
            for start in range(0, 150, 30):
                journal.add_trace(batch, shown[start : start + 30], "b1")
            journal.append([live(batch, cup=batch)])
            if batch not in (5, BATCHES):
                journal.append([fact("closed", batch, how="used-up", left_ug=None)])
    return path


@pytest.fixture
def record(whole: Path, tmp_path: Path) -> Path:
    return Path(copyfile(whole, tmp_path / "record"))


def pages(record: Path, name: str, kind: str = "leaf") -> list[int]:
    """The pages of a table or of what finds it, in their order; counted from 0."""
    select = "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = ? ORDER BY path"
    try:
        with closing(sqlite3.connect(record)) as db:
            return [number - 1 for (number,) in db.execute(select, (name, kind))]
    except sqlite3.OperationalError:
        pytest.skip("this SQLite cannot say where its tables lie")


def lose(record: Path, *lost: int, size: int = PAGE) -> bytes:
    raw = bytearray(record.read_bytes())
    for page in lost:
        raw[page * size : (page + 1) * size] = bytes(size)
    record.write_bytes(raw)
    return bytes(raw)


def facts_of(record: Path) -> dict[int, bytes]:
    with Journal.read(record) as reader:
        return dict(reader.sealed())


def run(record: Path, *words: str) -> int:
    return main(["record", *words, "--record", str(record)])


def test_weights_that_are_lost_cost_no_fact(record: Path, capsys: Capture, tmp_path: Path) -> None:
    before = facts_of(record)
    raw = lose(record, pages(record, "traces")[2])
    assert run(record, "verify") == 1
    assert "record rebuild" in capsys.readouterr().out
    assert run(record, "backup", "--to", str(tmp_path / "copy")) == 2
    assert "record rebuild" in capsys.readouterr().err
    assert run(record, "rebuild") == 1
    told = capsys.readouterr()
    assert told.out.startswith(
        f"Carried over: {len(before)} facts; newest fact: {len(before) + 1}; head: "
    )
    assert told.err.startswith("Weights of batch ")
    assert "kept as record-damaged" in told.err
    assert f"cupside record list --record {record}" in told.err
    assert (tmp_path / "record-damaged").read_bytes() == raw
    after = facts_of(record)
    assert {seq: after[seq] for seq in before} == before
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert said.startswith("The chain is whole: ")
    assert "kept as record-damaged" in said
    assert run(record, "backup", "--to", str(tmp_path / "copy")) == 1
    assert run(record, "rebuild") == 1  # it is not whole, and nothing more is lost
    assert facts_of(record) == after
    assert not (tmp_path / "record-damaged-2").exists()


@pytest.mark.parametrize("where", ["newest", "in the midst", "newest, and what finds it"])
def test_facts_that_are_lost_are_named_and_what_is_left_is_written_on(
    record: Path, capsys: Capture, where: str
) -> None:
    before = facts_of(record)
    leaves = pages(record, "facts")
    known = "finds" not in where
    lost = [leaves[len(leaves) // 2] if where == "in the midst" else leaves[-1]]
    lose(record, *lost, *([] if known else pages(record, "facts_by_batch")))
    assert run(record, "rebuild") == 1
    told = capsys.readouterr().err
    after = facts_of(record)
    mended = after[max(after)]
    carried = {seq: canonical for seq, canonical in after.items() if canonical != mended}
    gone = sorted(before.keys() - carried.keys())
    assert carried.items() <= before.items()
    assert b'"kind":"mended"' in mended
    assert gone
    if known:
        assert told.startswith(f"Facts {gone[0]} to {gone[-1]} (of batch ")
    assert max(after) > gone[0]
    assert run(record, "verify") == 1
    said = capsys.readouterr().out
    assert f"not there: fact{'s' if len(gone) > 1 and known else ''} {gone[0]}" in said
    assert "kept as record-damaged" in said
    with Journal.open(record) as journal:
        number = journal.open_batch(opened())
        journal.append([replace(entry, batch=number) for entry in poured()[1:]])
        assert number == BATCHES + 1  # no number is given twice, though all its facts are lost
        assert min(facts_of(record).keys() - after.keys()) > max(gone if known else after)


def test_a_live_cup_whose_facts_are_lost_stays_one(record: Path) -> None:
    lose(record, pages(record, "facts")[-1])
    with Journal.read(record) as reader:
        assert reader.batches("live") == [5, BATCHES]
    assert run(record, "rebuild") == 1
    with Journal.open(record) as journal:
        assert journal.batches("live") == [5, BATCHES]
        assert not journal.as_far_as(BATCHES)[1]
        found = look(journal, record)
        assert found.free_number() > BATCHES
        assert f"Batch {BATCHES} is a live cup that cannot be read" in found.say
    assert run(record, "rebuild") == 1
    with Journal.read(record) as reader:
        assert reader.batches("live") == [5, BATCHES]


@pytest.mark.parametrize("sector", [0, 5, 6, 7])
@pytest.mark.parametrize("how", ["as made", "written anew", "killed"])
def test_a_first_page_that_is_damaged_hides_no_fact(
    record: Path, capsys: Capture, tmp_path: Path, how: str, sector: int
) -> None:
    if how == "written anew":
        assert run(record, "rebuild") == 0
    with Journal.open(record) as journal:
        journal.append([fact("noted", 5, text="in the log")])
        if how == "killed":
            journal._db.execute("PRAGMA wal_checkpoint(PASSIVE)")
            journal.append([fact("noted", 5, text="in the log alone")])
            for end in ("", "-wal"):
                copyfile(f"{record}{end}", tmp_path / f"killed{end}")
    record = tmp_path / "killed" if how == "killed" else record
    before = facts_of(record) if how != "killed" else {}
    lose(record, sector, size=SECTOR)
    capsys.readouterr()
    assert run(record, "list") == 0
    told = capsys.readouterr()
    assert len(told.out.splitlines()) == BATCHES + 1  # and that something is amiss
    assert one_sentence(told.err)
    assert "record rebuild" in told.err
    assert run(record, "verify") == 1
    if how == "killed":  # with its log as it is
        mended = mend(record, fact("mended"))
        assert not mended.lost
        assert record.with_name("killed-damaged-wal").exists()
    else:
        assert run(record, "rebuild") == 0
        assert "Nothing was lost: what finds the facts is built anew" in capsys.readouterr().err
    assert run(record, "verify") == 0
    after = facts_of(record)
    assert before.items() <= after.items()
    assert b"in the log" in b"".join(after.values())
    assert (b"in the log alone" in b"".join(after.values())) == (how == "killed")


def test_with_a_first_page_of_tables_that_begin_elsewhere_all_facts_are_found(
    tmp_path: Path, capsys: Capture
) -> None:
    corpus = Path(__file__).parent / "corpus" / "layout-1.cupside"
    record = Path(copyfile(corpus, tmp_path / "record"))
    Journal.open(record).close()  # brought to the present layout: its facts begin elsewhere
    before = facts_of(record)
    raw = lose(record, 7, size=SECTOR)
    for words in (["list"], ["verify"]):
        assert run(record, *words) != 0
        assert "record rebuild" in "".join(capsys.readouterr())
    assert run(record, "rebuild") == 0
    assert record.with_name("record-damaged").read_bytes() == raw
    assert before.items() <= facts_of(record).items()


@pytest.mark.parametrize("gone", ["TABLE lots", "TABLE batches", "INDEX facts_by_batch"])
def test_what_finds_the_facts_and_was_taken_out_loses_none(
    record: Path, capsys: Capture, gone: str
) -> None:
    before = facts_of(record)
    change(record, f"DROP {gone}")
    assert run(record, "verify") == 1
    capsys.readouterr()
    assert run(record, "rebuild") == 0
    said = capsys.readouterr().err
    assert said.startswith("No fact is seen to be missing")
    assert one_sentence(said)
    assert before.items() <= facts_of(record).items()
    assert run(record, "verify") == 0
    assert "lost" not in capsys.readouterr().out


def test_weights_that_were_taken_out_are_all_that_is_named(record: Path, capsys: Capture) -> None:
    change(record, "DROP TABLE traces")
    assert run(record, "rebuild") == 1
    assert capsys.readouterr().err.startswith("Weights of batch 1 to 9 were lost")


def test_where_nobody_can_know_facts_may_have_been_lost(record: Path, capsys: Capture) -> None:
    change(record, "DROP TABLE lots")
    raw = bytearray(record.read_bytes())
    raw[36:40] = bytes(4)  # of how many pages its head says that they hold nothing
    record.write_bytes(raw)
    told = f"acts from {max(facts_of(record)) + 1} on may have been lost with a damaged part"
    assert run(record, "rebuild") == 1
    assert told in capsys.readouterr().err
    assert run(record, "verify") == 1
    assert told in capsys.readouterr().out


@pytest.mark.parametrize("gone", ["seq = 5", "batch = 3", "seq = (SELECT max(seq) FROM facts)"])
def test_facts_that_a_hand_took_out_were_not_lost_with_a_damaged_part(
    record: Path, capsys: Capture, gone: str
) -> None:
    change(record, "PRAGMA secure_delete = ON", f"DELETE FROM facts WHERE {gone}")
    if "max" in gone:
        change(record, "UPDATE batches SET closed = 1, outcome = 'closed' WHERE batch = 9")
    assert run(record, "rebuild") == 1
    told = capsys.readouterr().err
    assert run(record, "verify") == 1
    for said in (told, capsys.readouterr().out):
        assert "missing; the file is not damaged, and is kept as record-damaged." in said
        assert "damaged part" not in said


def change(record: Path, *statements: str) -> None:
    with closing(sqlite3.connect(record, isolation_level=None)) as db:
        for statement in statements:
            db.execute(statement)


@pytest.mark.parametrize("index", ["facts_by_batch", "facts_by_kind"])
def test_a_record_of_layout_1_is_brought_up_past_what_finds_its_facts(
    tmp_path: Path, index: str
) -> None:
    corpus = Path(__file__).parent / "corpus" / "layout-1.cupside"
    record = Path(copyfile(corpus, tmp_path / "record"))
    before = facts_of(record)
    lose(record, *pages(record, index))
    assert run(record, "rebuild") == 0
    assert run(record, "verify") == 0
    assert before.items() <= facts_of(record).items()


def test_what_cannot_be_carried_over_leaves_all_as_it_was(
    record: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    raw = lose(record, pages(record, "facts")[3])

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    assert run(record, "rebuild") == 2
    assert record.read_bytes() == raw
    assert not list(tmp_path.glob(".*.part*"))


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
@pytest.mark.parametrize("mode", [0o600, 0o640, 0o644])
@pytest.mark.parametrize("how", ["sound", "damaged", "killed"])
def test_what_is_made_has_the_rights_and_the_owner_of_the_old_file(
    record: Path, tmp_path: Path, mode: int, how: str
) -> None:
    other = 65534 if os.geteuid() == 0 else os.geteuid()
    page = pages(record, "facts")[1]
    if how == "killed":
        with Journal.open(record) as journal:
            journal.append([fact("noted", 1, text="in the log")])
            for end in ("", "-wal"):
                copyfile(f"{record}{end}", tmp_path / f"killed{end}")
        record = tmp_path / "killed"
    if how != "sound":
        lose(record, page)
    for file in tmp_path.glob(f"{record.name}*"):
        os.chown(file, other, -1)
        file.chmod(mode)
    mend(record, fact("mended"))
    made = [record, *tmp_path.glob(f"{record.name}-damaged*")]
    assert len(made) == {"sound": 1, "damaged": 2, "killed": 3}[how]
    for file in made:
        about = file.stat()
        assert (about.st_uid, stat.S_IMODE(about.st_mode)) == (other, mode), file


@pytest.mark.skipif(os.name != "posix", reason="rights of files are set the POSIX way")
def test_a_record_that_may_not_be_written_to_is_not_replaced() -> None:
    """Its folder would let it be."""
    with where_anybody_may_write() as record:
        for file in record.parent.glob("record-*"):
            file.unlink()
        record.chmod(0o444)
        raw = record.read_bytes()
        with as_somebody():
            with pytest.raises(RecordError) as told, Journal.open(record) as journal:
                journal.append([live()])
            with pytest.raises(RecordError, match="look at the rights") as refused:
                mend(record, fact("mended"))
            assert refused.value.say == told.value.say
            assert not list(record.parent.glob("*-damaged"))
        assert (stat.S_IMODE(record.stat().st_mode), record.read_bytes()) == (0o444, raw)
        if os.geteuid() == 0:  # whom no rights keep out
            mend(record, fact("mended"))
            assert stat.S_IMODE(record.stat().st_mode) == 0o444


def test_it_is_not_carried_over_while_another_program_has_it(record: Path, tmp_path: Path) -> None:
    lost = pages(record, "facts")[3]
    with Journal.open(record) as journal:
        journal.claim()
        raw = lose(record, lost)
        with pytest.raises(RecordError, match="Another cupside is writing"):
            mend(record, fact("mended"), wait_s=0)
        assert record.read_bytes() == raw
        assert not (tmp_path / "record-damaged").exists()


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_whatever_pages_are_lost_no_fact_is_altered_and_it_is_written_on(
    whole: Path, tmp_path: Path, data: st.DataObject
) -> None:
    record = Path(copyfile(whole, tmp_path / "record"))
    before, count = facts_of(record), record.stat().st_size // PAGE
    lose(record, *data.draw(st.sets(st.integers(1, count - 1), min_size=1, max_size=3)))
    try:
        with Journal.read(record) as reader:
            readable = dict(reader.sealed())
    except RecordError:
        readable = {}
    assert run(record, "rebuild") in (0, 1)
    after = facts_of(record)
    assert readable.items() <= after.items()
    assert {seq: text for seq, text in after.items() if b'"kind":"mended"' not in text}.items() <= (
        before.items()
    )
    with Journal.open(record) as journal:
        assert journal.open_batch(opened()) == BATCHES + 1
        lost = before.items() - after.items() or _weights_or_doubts(journal)
        assert journal.verify().ok == (not lost)


def _weights_or_doubts(journal: Journal) -> str:
    return " ".join(one for one in journal.mended() if "eights" in one or "acts from" in one)
