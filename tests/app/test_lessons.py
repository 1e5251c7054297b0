"""What a batch taught stands in the record, and the next one begins with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import fact
from support.shed import ASKED, Shed

from mixer.app.bench.lessons import BATCHES, taught_before
from mixer.app.resolve import resolve
from mixer.pour.facts import Learned
from mixer.pour.plain import from_plain
from mixer.pour.state import fold
from mixer.pour.taught import LEAST, Taught
from mixer.record.envelope import Entry, RecordError
from mixer.record.journal import Journal
from mixer.record.telling import tell

ORDER = resolve(ASKED)
COMPONENTS = [{"name": c.name, "role": c.role} for c in ORDER.terms.recipe.components]
OPENED: dict[str, Any] = {**ORDER.about, "recipe": {"components": COMPONENTS}}
NOTHING = Taught(None, (None, None))


@pytest.fixture
def shed(tmp_path: Path) -> Shed:
    return Shed(tmp_path)


def write(journal: Journal, *lessons: dict[str, Any], **about: Any) -> int:
    batch = journal.open_batch(fact("opened", **{**OPENED, **about}))
    journal.append([fact("learned", batch, **data) for data in lessons])
    return batch


def lesson(component: int = 0, hand_ms: Any = 560, drip_ug: Any = 90_000) -> dict[str, Any]:
    return {"component": component, "hand_ms": hand_ms, "drip_ug": drip_ug}


def taught(journal: Journal, **about: Any) -> Taught:
    newest = max((entry.batch for entry in journal.entries()), default=0)
    told = {**ORDER.about, **about}
    return taught_before(journal, newest + 1, told, ORDER.terms.recipe)


def whole(shed: Shed) -> None:
    shed.all_is_in()
    for _ in range(25):
        shed.clock.pass_s(1)
        shed.tick()
    assert shed.batch.status == 0


# -- written -------------------------------------------------------------------------------


def test_each_component_leaves_a_lesson_and_the_last_fact_stays_the_end(shed: Shed) -> None:
    whole(shed)
    kinds = shed.kinds()
    assert kinds[-1] == "live"
    assert [e.data["component"] for e in shed.facts() if e.kind == "learned"] == [0, 1]
    for entry in shed.facts():
        if entry.kind == "learned":
            assert tell(entry, COMPONENTS).startswith("learned of ")
    assert shed.journal.verify().ok


def test_a_batch_that_is_dropped_has_taught_what_was_poured(shed: Shed) -> None:
    shed.resin_is_in()
    shed.batch.cut("enough")
    assert [e.data["component"] for e in shed.facts() if e.kind == "learned"] == [0]
    assert shed.kinds()[-1] == "ended"


def test_who_goes_on_before_the_jug_has_dripped_out_teaches_nothing_of_it(shed: Shed) -> None:
    shed.rest(0, 1)
    shed.rest(40, 3)
    shed.pour(40, 84.1)
    shed.rest(84.1, 4)
    shed.go()
    assert shed.batch.picture().component == "hardener"
    shed.batch.cut("enough")
    assert "learned" not in shed.kinds()


def test_how_a_batch_stands_is_the_same_without_its_lessons(shed: Shed) -> None:
    whole(shed)
    facts = [from_plain(e.kind, e.at_ms, e.data) for e in shed.facts() if e.kind != "traced"]
    assert any(isinstance(one, Learned) for one in facts)
    without = [one for one in facts if one is not None and not isinstance(one, Learned)]
    assert fold([one for one in facts if one is not None]) == fold(without)
    assert shed.batch.durable == fold(without)


def test_killed_and_carried_on_it_goes_on_as_before_and_is_taught_by_the_others(
    shed: Shed,
) -> None:
    for _ in range(LEAST):
        write(shed.journal, lesson(), lesson(1))
    shed.start()
    shed.rest(0, 1)
    shed.rest(40, 3)
    shed.pour(40, 84.1)
    shed.rest(84.1, 9)
    shed.go()
    shed.clock.pass_s(200)
    shed.start()
    shed.rest(84.1, 3)
    assert shed.batch.number == LEAST + 1
    assert shed.batch._coach.learning.taught == Taught(0.56, (90_000, 90_000))
    shed.pour(84.1, 100)
    shed.rest(100, 9)
    shed.go()
    for _ in range(25):
        shed.clock.pass_s(1)
        shed.tick()
    assert shed.batch.status == 0


# -- looked up -----------------------------------------------------------------------------


def test_the_record_of_a_program_that_kept_no_lessons_teaches_nothing(shed: Shed) -> None:
    assert taught(shed.journal) == NOTHING
    for _ in range(5):
        write(shed.journal)
    assert taught(shed.journal) == NOTHING


def test_the_next_batch_begins_with_the_median(shed: Shed) -> None:
    for hand_ms, drip_ug in ((560, 80_000), (580, 600_000), (600, 90_000), (580, 90_000)):
        write(shed.journal, lesson(0, hand_ms, drip_ug))
    assert taught(shed.journal) == Taught(0.58, (90_000, None))


@pytest.mark.parametrize(
    ("about", "found"),
    [
        ({"bench": "real"}, NOTHING),
        ({"operator": "CD"}, Taught(None, (90_000, None))),
        ({"resin_system": "other"}, Taught(0.56, (None, None))),
        ({"resin_c": 9.0}, Taught(0.56, (None, None))),
    ],
)
def test_what_is_otherwise_is_not_taught(shed: Shed, about: dict[str, Any], found: Taught) -> None:
    for _ in range(LEAST):
        write(shed.journal, lesson(), **about)
    assert taught(shed.journal) == found
    assert taught(shed.journal, **about) == Taught(0.56, (90_000, None))


def test_a_builder_or_a_warmth_that_was_corrected_is_the_one_that_counts(shed: Shed) -> None:
    for _ in range(LEAST):
        batch = write(shed.journal, lesson(), operator="CD")
        told = {"field": "operator", "was": "CD", "value": None, "reason": "it was me"}
        shed.journal.append([fact("corrected", batch, **told)])
    assert taught(shed.journal).hand_s == 0.56


JUNK = st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats() | st.text(max_size=3)


@settings(max_examples=30)
@given(st.lists(st.fixed_dictionaries({}, optional={
    "component": JUNK, "hand_ms": JUNK, "drip_ug": JUNK}), max_size=5))  # fmt: skip
def test_whatever_another_program_wrote_ends_nothing(told: list[dict[str, Any]]) -> None:
    class Record:
        def entries(self, batch: int) -> list[Entry]:
            data = told[batch % len(told)] if told else {}
            return [fact("opened", batch, **OPENED), fact("learned", batch, **data)]

    taught_before(Record(), 9, ORDER.about, ORDER.terms.recipe)  # type: ignore[arg-type]


def test_a_batch_that_cannot_be_read_teaches_nothing_and_hides_no_other() -> None:
    class Record:
        def entries(self, batch: int) -> list[Entry]:
            if batch == 2:
                raise RecordError("torn")
            return [fact("opened", batch, **OPENED), fact("learned", batch, **lesson())]

    found = taught_before(Record(), 6, ORDER.about, ORDER.terms.recipe)  # type: ignore[arg-type]
    assert found == Taught(0.56, (90_000, None))


def test_only_the_newest_batches_are_looked_at_however_many_there_are() -> None:
    asked: list[int] = []

    class Record:
        def entries(self, batch: int) -> list[Entry]:
            asked.append(batch)
            return []

    taught_before(Record(), 10_000, ORDER.about, ORDER.terms.recipe)  # type: ignore[arg-type]
    assert asked == list(range(10_000 - BATCHES, 10_000))
