"""What the record has taught of how fast epoxy is used up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from support.facts import OPENED, fact

from mixer.app.bench import kit_size as sized
from mixer.app.files.profiles import load_resin
from mixer.app.sizing.pace import FACTOR, LEAST, NEWEST, learned
from mixer.app.sizing.size import Asked, answer
from mixer.plan.tags import Kit
from mixer.record.envelope import Entry
from mixer.record.journal import Journal


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "shop.cupside"


def used(
    record: Path,
    minutes: float,
    *,
    how: str = "used-up",
    left_g: float = 0,
    more: Sequence[Entry] = (),
    **about: Any,
) -> None:
    """60 g that were closed so long after they went live; ``more`` came true between."""
    with Journal.open(record) as journal:
        batch = journal.open_batch(fact("opened", 0, **{**OPENED, "bench": "real", **about}))
        masses = (44_100_000, 15_900_000)
        facts = [fact("accepted", batch, component=i, net_ug=ug) for i, ug in enumerate(masses)]
        facts.append(fact("live", batch, 160_000, cup=batch, verdict="in-band"))
        left_ug = round(left_g * 1e6) if how == "left" else None
        at_ms = round(160_000 + minutes * 60_000)
        facts += [replace(one, batch=batch) for one in more]
        facts.append(fact("closed", batch, at_ms, how=how, left_ug=left_ug))
        journal.append(facts)


def test_the_median_of_the_newest_cups(record: Path) -> None:
    assert learned(record, "squeegee", 10) is None  # there is none
    for minutes in (15, 5, 5, 6):
        assert learned(record, "squeegee", 10) is None
        used(record, minutes)
    assert learned(record, "squeegee", 10) == (11, LEAST)  # of 4, 12, 12 and 10
    for _ in range(NEWEST):
        used(record, 7.5)
    assert learned(record, "squeegee", 10) == (8, NEWEST)


def test_what_tells_no_pace(record: Path) -> None:
    used(record, 6)
    used(record, 6)
    used(record, 6, how="left", left_g=12)  # 48 g in 6 min: 8 g a minute
    used(record, 6, how="discard")
    used(record, 6, bench="simulated")
    used(record, 1)
    used(record, 600)
    used(record, 6 * FACTOR * 1.1)
    used(record, 6, more=[fact("shared", 1, 161_000, cup=99, of=1, mass_ug=None)])
    used(record, 6, more=[fact("filled", 10, 161_000, cup=10, filler="flox", mass_ug=None)])
    assert learned(record, "squeegee", 10) is None
    used(record, 6)
    assert learned(record, "squeegee", 10) == (10, 4)


def test_what_was_parted_is_counted_once(record: Path) -> None:
    # 70 g were stirred and 10 g taken out; 60 g in 6 min.
    parted = fact(
        "parted",
        at_ms=150_000,
        from_ug=82_300_000,
        gross_ug=72_300_000,
        amounts_ug=[44_100_000, 15_900_000],
    )
    for _ in range(LEAST):
        used(record, 6, more=[parted])
    assert learned(record, "squeegee", 20) == (10, LEAST)


def kits(*methods: str | None) -> list[dict[str, Any]]:
    return [
        {"layup": "rib", "plies": "1", "cloth_ug": 50_000_000, "method": method}
        for method in methods
    ]


def test_each_method_is_learned_from_its_own_cups(record: Path) -> None:
    for _ in range(LEAST):
        used(record, 6, kits=kits("squeegee"))
        used(record, 20, kits=kits("mine", "mine"))
        used(record, 30, kits=kits("mine", "squeegee"))  # nobody knows what went where
    assert learned(record, "squeegee", 10) == (10, LEAST)
    assert learned(record, "mine", 5) == (3, LEAST)
    assert learned(record, "brush", 5) is None


def test_of_cups_without_kits_the_layups_own_name_tells_the_method(record: Path) -> None:
    for layup in ("Rib 3", "rib 3", "rib 3 ", "RIB 3"):
        used(record, 20, layup=layup)
        used(record, 15, layup="rib 3; wing")
    assert learned(record, "mine", 5, "rib 3") == (3, LEAST)
    assert learned(record, "mine", 5, "wing") is None
    assert learned(record, "mine", 5) is None
    assert learned(record, "squeegee", 5) == (3.5, 2 * LEAST)  # of none else is it known


def test_the_cups_of_a_method_are_found_behind_those_of_another(record: Path) -> None:
    for _ in range(LEAST):
        used(record, 20, kits=kits("mine"))
    for _ in range(2 * NEWEST):
        used(record, 6)
    assert learned(record, "mine", 5) == (3, LEAST)


def test_a_method_of_ones_own_is_reckoned_at_ones_own_pace(record: Path, tmp_path: Path) -> None:
    profiles = Path(__file__).parents[2] / "profiles"
    (tmp_path / "mine.toml").write_text((profiles / "methods/brush.toml").read_text("utf-8"))
    text = (profiles / "layups/demo-panel.toml").read_text("utf-8")
    text = text.replace('method = "squeegee"', 'method = "mine.toml"')
    layup = tmp_path / "wing.toml"
    layup.write_text(text, "utf-8")
    asked = Asked(str(layup), resin="sample-36", cup="plastic-500", air="22 degC")
    usual = answer(asked, record)
    assert any("Reckoned with 5 g a minute (mine)" in note for note in usual["notes"])
    assert any("No pace of yours is known for mine yet" in note for note in usual["notes"])
    for _ in range(LEAST):
        used(record, 12, layup="wing")
    own = answer(asked, record)
    assert any("Reckoned with 5 g a minute (your last 4 cups)" in note for note in own["notes"])
    brushed = answer(replace(asked, method="brush"), record)  # what they were not wetted out by
    assert any("No pace of yours is known for brush" in note for note in brushed["notes"])
    for _ in range(2 * LEAST):
        used(record, 20, kits=kits("mine"))
    own = answer(asked, record)
    assert any("Reckoned with 3 g a minute (your last 12 cups)" in note for note in own["notes"])
    assert not any("No pace" in note for note in own["notes"])


def test_a_kit_at_the_bench_is_sized_at_its_own_methods_pace(record: Path) -> None:
    kit = Kit("rib 3", (1,), 0.6, 300.0, "brush")
    asked = sized.Asked((kit,), None, "sample-28", None, "sma", "25 degC", record)
    usual = sized.size_of(asked)
    for _ in range(LEAST):
        used(record, 30, layup="rib 3")  # 2 g a minute, where a brush has 5
    assert sized.size_of(asked).size_ug < usual.size_ug


def test_a_record_that_is_none_teaches_nothing(record: Path) -> None:
    record.write_bytes(b"no record at all" * 400)
    assert learned(record, "squeegee", 10) is None
    assert learned(record.parent, "squeegee", 10) is None


def test_a_slow_builder_gets_smaller_batches(record: Path) -> None:
    asked = Asked("demo-panel", resin="sample-36", cup="plastic-500")
    usual = answer(asked)
    assert answer(asked, record) == usual
    for _ in range(LEAST):
        used(record, 12)
    slow = answer(asked, record)
    assert max(b["mass_g"] for b in slow["batches"]) < max(b["mass_g"] for b in usual["batches"])
    assert slow["need"] == usual["need"]
    assert any("Reckoned with 5 g a minute (your last 4 cups)" in note for note in slow["notes"])
    assert any("Reckoned with 10 g a minute (squeegee)" in note for note in usual["notes"])


def thickens(record: Path, part: float, *, bench: str = "real", how_many: int = 1) -> None:
    """Cups that were said to thicken after so much of the model's time."""
    resin = load_resin("sample-36")
    about = {"bench": bench, "resin_system": resin.name, "pot_life": resin.raw["pot_life"]}
    for _ in range(how_many):
        said = {"cup": 1, "age_s": 1000.0 * part, "model_s": 1000.0}
        used(record, 30, more=[fact("thickened", 0, 800_000, **said)], **about)


def sized_by(record: Path) -> tuple[float, float, list[str]]:
    """The first batch, how long it can be worked with, and the notes."""
    words = Asked(resin="sample-36", area="0.6m2", fabric="300 g/m2", plies="4", air="24degC")
    found = answer(words, record)
    first = found["batches"][0]
    return first["mass_g"], first["working_min"], found["notes"]


def test_what_thickened_sooner_makes_the_batches_smaller_and_that_is_said(record: Path) -> None:
    usual_g, usual_min, notes = sized_by(record)
    assert not any("thickening" in note for note in notes)
    thickens(record, 0.5, how_many=5)
    less_g, less_min, notes = sized_by(record)
    assert less_g < 0.8 * usual_g
    assert less_min < usual_min
    (said,) = [note for note in notes if "thickening" in note]
    assert said.startswith("All is reckoned with 61% of its label's times: ")
    assert "(5 in the record)" in said
    kit = Kit("rib", (1,), 1.2, 300.0)
    asked = sized.Asked((kit,), None, "sample-36", None, "sma", "24 degC", record)
    assert "of its label's times" in sized.size_of(asked).say


@pytest.mark.parametrize("bench", ["simulated", "real"])
def test_what_thickened_later_or_was_simulated_makes_no_batch_larger(
    record: Path, bench: str
) -> None:
    before = sized_by(record)
    thickens(record, 0.5 if bench == "simulated" else 1.3, bench=bench, how_many=6)
    assert sized_by(record)[:2] == before[:2]


def test_what_thickened_too_soon_to_be_believed_is_said_where_more_is_sized(record: Path) -> None:
    before = sized_by(record)
    thickens(record, 0.24, how_many=3)
    after = sized_by(record)
    assert after[:2] == before[:2]
    (said,) = [note for note in after[2] if "thickening" in note]
    assert said.startswith("Cups of it that were said to be thickening within a quarter")
    assert "time: 3. " in said
    assert "look at the hardener" in said
    asked = sized.Asked(
        (Kit("rib", (1,), 1.2, 300.0),), None, "sample-36", None, "sma", "24 degC", record
    )
    assert "look at the hardener" in sized.size_of(asked).say
