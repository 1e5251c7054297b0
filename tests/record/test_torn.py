"""A file that was cut off: whoever looks reads what a rebuild reads, and names what is missing.

A copy that was broken off, a disk that filled up under a file manager: the file is short, and
nothing in it was altered.
"""

from __future__ import annotations

import re
from pathlib import Path
from random import Random
from shutil import copyfile

import pytest
from support.command import one_sentence
from support.facts import fact, live, poured

from mixer.cli import main
from mixer.record.journal import Journal
from mixer.record.reader import Reader

Capture = pytest.CaptureFixture[str]
CORPUS = Path(__file__).parent / "corpus"
PAGE = 4096
#: The first number that a sentence tells of facts.
_FIRST = re.compile(r"\b[Ff]acts? (?:from )?(\d+)")


def run(record: Path, *words: str) -> int:
    return main([*words, "--record", str(record)])


def facts_of(record: Path) -> dict[int, bytes]:
    with Reader.look(record) as reader:
        return dict(reader.sealed())


def cuts(size: int, several: int, seed: int) -> list[int]:
    """Within the last page, within the one before, and anywhere behind the first three."""
    draw = Random(seed)
    ends = [(size - PAGE + 1, size - 1), (size - 2 * PAGE + 1, size - PAGE), (3 * PAGE, size - 1)]
    return [draw.randrange(*end) for end in ends for _ in range(several)] + [size - 1, size - PAGE]


def cut(record: Path, copy: Path, length: int) -> Path:
    copy.write_bytes(record.read_bytes()[:length])
    return copy


def named(said: str) -> int | None:
    found = _FIRST.search(said)
    return int(found[1]) if found else None


@pytest.mark.parametrize("kept", ["layout-1", "layout-2", "layout-2-all-kinds", "layout-2-waits"])
def test_whoever_looks_reads_what_a_rebuild_reads(
    kept: str, tmp_path: Path, capsys: Capture
) -> None:
    whole = CORPUS / f"{kept}.cupside"
    before = facts_of(whole)
    for length in cuts(whole.stat().st_size, 2, seed=1):
        torn = cut(whole, tmp_path / "torn", length)
        mended = Path(copyfile(torn, tmp_path / f"mended-{length}"))
        seen = facts_of(torn)
        status = run(mended, "record", "rebuild")
        rebuilt = facts_of(mended)
        assert seen.keys() == rebuilt.keys() & before.keys(), length
        assert status or seen.keys() == before.keys()
        capsys.readouterr()
        assert run(torn, "record", "verify") == 1
        said = capsys.readouterr().out
        assert one_sentence(said)
        assert "was cut off" in said
        assert "as it was stored" not in said, length


@pytest.mark.parametrize("kept", ["layout-2", "layout-2-all-kinds"])
def test_every_face_names_the_first_fact_that_is_missing(
    kept: str, tmp_path: Path, capsys: Capture
) -> None:
    whole = CORPUS / f"{kept}.cupside"
    before = facts_of(whole)
    table = tmp_path / "table.csv"
    for length in cuts(whole.stat().st_size, 1, seed=2):
        torn = cut(whole, tmp_path / "torn", length)
        first = min(before.keys() - facts_of(torn).keys(), default=None)
        for words in (
            ("record", "list"),
            ("record", "list", "--json"),
            ("record", "show", "1"),
            ("record", "show", "13"),
            ("record", "verify"),
            ("record", "export", "--to", str(table)),
            ("record", "correct", "1", "--field=operator", "--value=CD", "--reason=typo"),
            ("close", "1", "--used-up"),
            ("record", "rebuild"),
        ):
            table.unlink(missing_ok=True)
            capsys.readouterr()
            run(torn, *words)
            told = capsys.readouterr()
            said = told.out if "verify" in words else told.err
            assert named(said) == first or (first is None and "rebuild" in words), (length, words)
            assert "as it was stored" not in said


@pytest.fixture(scope="module")
def boat(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty batches in one plain file; of the first a fact came last."""
    path = tmp_path_factory.mktemp("boat") / "record"
    with Journal.open(path) as journal:
        for batch in range(1, 21):
            journal.append([*poured(batch), live(batch)])
        journal.append([fact("closed", how="used-up", left_ug=None)])
        journal.backup(path.with_name("copy"))
    return path.with_name("copy")


def test_a_batch_with_facts_missing_is_marked_before_and_after_it_is_mended(
    boat: Path, tmp_path: Path, capsys: Capture
) -> None:
    before = facts_of(boat)
    lacking = 0
    for length in cuts(boat.stat().st_size, 1, seed=3):
        torn = cut(boat, tmp_path / f"torn-{length}", length)
        seen = facts_of(torn)
        gone = {_batch(before[seq]) for seq in before.keys() - seen.keys()}
        left = {_batch(canonical) for canonical in seen.values()}
        for mended in (False, True):
            if mended and not run(torn, "record", "rebuild"):
                continue
            capsys.readouterr()
            assert run(torn, "record", "list") == 0
            marked = {
                int(line.split()[0])
                for line in capsys.readouterr().out.splitlines()
                if "[facts missing]" in line
            }
            assert marked >= gone & left, length
            assert marked <= gone or len(marked) < 3, length  # where nobody knows of which
            lacking += len(marked)
            for batch in marked:
                assert run(torn, "record", "show", str(batch)) == 0
                assert "Facts of it are missing" in capsys.readouterr().out
    assert lacking


def _batch(canonical: bytes) -> int:
    found = re.search(rb'"batch":(\d+),"boot"', canonical)
    return int(found[1]) if found else 0


def test_of_a_torn_record_the_newest_fact_is_told(
    boat: Path, tmp_path: Path, capsys: Capture
) -> None:
    for length in cuts(boat.stat().st_size, 2, seed=4):
        torn = cut(boat, tmp_path / "torn", length)
        with Reader.look(torn) as reader:
            seq, hash_ = reader.head()
        assert seq
        capsys.readouterr()
        assert run(torn, "record", "show", "1") == 0
        last = capsys.readouterr().out.splitlines()[-1]
        assert last.startswith("Something is amiss with this record: cupside record verify says")
        assert last.endswith(f" that can be read is fact {seq}; head {hash_.hex()}.")
        assert run(torn, "record", "export", "--to", str(tmp_path / "table.csv")) == 0
        assert f"newest fact: {seq}; head: {hash_.hex()}." in capsys.readouterr().out


def test_a_record_that_is_short_while_its_log_holds_the_rest_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "record"
    with Journal.open(path) as journal:
        for batch in range(1, 20):
            journal.append(poured(batch))
        with Reader.look(path) as reader:
            assert reader.verify().ok
            assert reader.torn == ""
