"""Records that released layouts wrote, kept for good: each opens, verifies and exports for ever.

Each was made by the program of its day on the simulated bench: batches live, closed,
interrupted in mid-pour, with a blended hardener, with a text that a spreadsheet would run;
from layout 2 on also killed and carried on, left open, corrected, and typed in later;
in the newest ones stands every kind of fact that the program writes: of cups that were split,
filled and moved, of jugs, clocks, kits, witness cups, findings, of a pause and a cap of heat. The
CSV beside it is what that program exported; columns may be added to its right.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path
from shutil import copyfile

import pytest

import mixer.app
from mixer.app.book.looking import export_csv
from mixer.pour.plain import _KINDS
from mixer.record import mending, telling
from mixer.record.journal import SCHEMA, Journal
from mixer.record.mending import mend
from mixer.record.views import batch_rows

APP = Path(mixer.app.__file__).parent
CORPUS = Path(__file__).parent / "corpus"
RECORDS = sorted(CORPUS.glob("*.cupside"))
#: What the newest fact of each hashed to on the day it was kept.
HEADS = {
    "layout-1": "f33202c99bcb8cc3d5c8f305e1b790291449640b456248f95c5f58d54c222857",
    "layout-2": "3cbcdc0998539f198ec241d4ec378bab0065359f5580ddfccda729bb4acc9ad6",
    "layout-2-all-kinds": "d5d6806a652d963d49ff05719e4dedc8ca023524838919e2df460cf39799d799",
    "layout-2-capped": "1b54459d9109c8fabb26d42694c732b9a95f4a81bf4603aac09df248694342af",
    "layout-2-waits": "199f21322f79662f89b6a5d3cb64228403b9ab1402f668832ff3e833a3a83bb3",
}


@pytest.fixture(params=RECORDS, ids=lambda path: path.stem)
def kept(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    copy = tmp_path / request.param.name
    copyfile(request.param, copy)
    return copy


def test_every_layout_has_its_record() -> None:
    assert {int(path.stem.split("-")[1]) for path in RECORDS} == set(range(1, SCHEMA + 1))
    assert HEADS.keys() == {path.stem for path in RECORDS}


def test_every_kind_of_fact_that_is_written_has_its_record() -> None:
    """One that is new is to be put into a record of its own, made by the program of the day."""
    written = set(_KINDS) | set(telling._KINDS) | {mending.KIND}
    said = re.compile(r'\bfact\(\s*"([a-z-]+)"')
    for file in sorted(APP.rglob("*.py")):
        written |= set(said.findall(file.read_text(encoding="utf-8")))
    kept = set[str]()
    for path in RECORDS:
        with Journal.read(path) as reader:
            kept |= {entry.kind for entry in reader.entries()}
    assert written <= kept


def test_it_opens_verifies_and_exports_unchanged(kept: Path, tmp_path: Path) -> None:
    before = kept.read_bytes()
    head = bytes.fromhex(HEADS[kept.stem])
    with Journal.read(kept) as reader:
        assert reader.verify(head).ok
        assert reader.head()[1] == head
        assert (reader.newer, reader.torn) == ("", "")
    export_csv(kept, tmp_path / "batches.csv")
    assert kept.read_bytes() == before
    then, now = (read(path) for path in (CORPUS / f"{kept.stem}.csv", tmp_path / "batches.csv"))
    assert [{k: row[k] for k in then[0]} for row in now] == then


def test_it_is_written_on_by_the_present_program(kept: Path) -> None:
    with Journal.read(kept) as reader:
        facts = list(reader.entries())
        found = {row.outcome for row in batch_rows(facts)}
        chosen = {how: list(reader.entries(outcome=how)) for how in found}
    with Journal.open(kept) as journal:
        assert list(journal.entries()) == facts
        for how, entries in chosen.items():
            assert list(journal.entries(outcome=how)) == entries
            assert {row.outcome for row in batch_rows(entries)} == {how}
        weights = {batch: list(journal.trace(batch)) for batch in {e.batch for e in facts}}
        assert any(weights.values()) is (kept.stem != "layout-1")
        opened = next(e for e in facts if e.kind == "opened")
        assert journal.open_batch(opened) == max(e.batch for e in facts) + 1
        assert journal.verify(bytes.fromhex(HEADS[kept.stem])).ok
        assert list(journal.entries())[:-1] == facts
    with Journal.open(kept) as journal:  # the way was gone once
        assert journal.verify().facts == len(facts) + 1
    assert mend(kept, facts[-1]).kept == ""
    with Journal.open(kept) as journal:
        assert list(journal.entries())[:-1] == facts
        assert (journal.verify().ok, journal.misled()) == (True, "")


def read(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))
