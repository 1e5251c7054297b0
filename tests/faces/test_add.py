"""``record add``: a batch mixed elsewhere or typed in later, and what is refused."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from support.command import one_sentence
from support.facts import live, poured

from mixer.cli import main
from mixer.record.journal import Journal
from mixer.record.views import live_cups

Capture = pytest.CaptureFixture[str]
MASSES = ("--resin-mass", "80g", "--hardener-mass", "28.8g")
WHEN = ("--mixed-at", "2026-01-02T10:30Z")


@pytest.fixture
def record(tmp_path: Path) -> Path:
    return tmp_path / "boat.cupside"


def add(record: Path, *words: str, resin: str = "sample-36") -> int:
    return main(["record", "add", "--resin", resin, *words, "--record", str(record)])


def row(record: Path, capsys: Capture) -> dict[str, Any]:
    capsys.readouterr()
    assert main(["record", "list", "--json", "--record", str(record)]) == 0
    last: dict[str, Any] = json.loads(capsys.readouterr().out)[-1]
    return last


def test_a_late_entry_has_a_number_and_its_marks(record: Path, capsys: Capture) -> None:
    with Journal.open(record) as journal:
        journal.append([*poured(1), live(1)])
    about = ["--layup", "rib 3", "--plies", "1-2", "--operator", "CD", "--air", "68 degF"]
    about += ["--resin-temp", "19 degC", "--rh", "50%", "--resin-lot", "R-1"]
    about += ["--hardener-lot", "H-1", "--note", "at the club"]
    assert add(record, *MASSES, *WHEN, *about) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert told.out == (
        "Batch 2 is entered: sample-36, 80 g : 28.8 g, ratio 100 : 36.00 (target 100 : 36), "
        "unproven: its weights were typed in.\n"
    )
    told_row = row(record, capsys)
    expected = {
        "batch": 2, "cup": None, "live_utc": None, "closed_utc": None, "size_g": None,
        "opened_utc": "2026-01-02T10:30:00.000Z", "resin_system": "sample-36",
        "resin_source": "invented for cupside: no maker's product", "resin_g": 80,
        "hardener_g": 28.8, "ratio_target": 36, "ratio_actual": 36, "verdict": "unproven",
        "weights": "typed", "outcome": "entered", "air_c": 20, "resin_c": 19, "rh_pct": 50,
        "resin_lot": "R-1", "hardener_lot": "H-1", "operator": "CD", "layup": "rib 3",
        "plies": "1-2", "note": "at the club", "corrections": None, "bench": None,
    }  # fmt: skip
    assert {key: told_row[key] for key in expected} == expected
    assert told_row["entered_utc"] > told_row["opened_utc"]
    with Journal.read(record) as journal:
        (entered,) = journal.entries(batch=2)
        assert [cup.batch for cup in live_cups(journal.entries())] == [1]
    assert entered.data["resin_confirmed"] is False
    assert entered.data["texts"] == ["80g", "28.8g"]
    assert entered.data["profile"]["resin"]["name"] == "sample-36"


def test_the_first_entry_makes_the_record_and_says_so(record: Path, capsys: Capture) -> None:
    assert add(record, *MASSES, *WHEN) == 0
    assert f"Batch 1 is entered in a new record, {record}: " in capsys.readouterr().out
    assert main(["record", "verify", "--record", str(record)]) == 0


def test_each_of_blended_hardeners_has_its_mass(record: Path, capsys: Capture) -> None:
    words = ["--mass", "slow=10g", "--resin-mass", "80g", "--mass", "fast = 20 g"]
    assert add(record, *[w.replace(" = ", "=") for w in words], *WHEN, resin="sample-blend") == 0
    told = row(record, capsys)
    assert (told["hardener_g"], told["fast_g"], told["slow_g"]) == (30, 20, 10)
    assert told["ratio_actual"] == 37.5


def test_a_ratio_out_of_tolerance_is_said(record: Path, capsys: Capture) -> None:
    assert add(record, "--resin-mass", "80g", "--hardener-mass", "31g", *WHEN) == 0
    assert "off by 7.6 %, more than the 3 % allowed" in capsys.readouterr().out
    assert "off by 7.6 %" in row(record, capsys)["unproven_because"]


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Clocks an hour or two ahead of UTC, changed in spring and in autumn."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="this system cannot change its zone")
@pytest.mark.usefixtures("berlin")
@pytest.mark.parametrize(
    ("typed", "utc"),
    [
        ("2026-07-01T10:30", "2026-07-01T08:30:00.000Z"),
        ("2026-01-01T10:30", "2026-01-01T09:30:00.000Z"),
        ("2026-01-01 10:30:15", "2026-01-01T09:30:15.000Z"),
        ("2026-07-01T10:30Z", "2026-07-01T10:30:00.000Z"),
        ("2026-07-01T10:30-05:00", "2026-07-01T15:30:00.000Z"),
        ("1969-07-01T10:30+00:00", "1969-07-01T10:30:00.000Z"),
        ("0001-01-01T10:30Z", "0001-01-01T10:30:00.000Z"),
        ("2025-10-26T02:30", None),  # twice, as clocks went back
        ("2025-03-30T02:30", None),  # never, as clocks went forward
    ],
)
def test_local_time_is_understood_and_an_unclear_one_refused(
    record: Path, capsys: Capture, typed: str, utc: str | None
) -> None:
    assert add(record, *MASSES, "--mixed-at", typed) == (2 if utc is None else 0)
    if utc is None:
        assert "is not one moment of local time" in capsys.readouterr().err
    else:
        assert row(record, capsys)["opened_utc"] == utc


LONG = "x" * 1_000_000


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (MASSES, "required: --mixed-at"),
        ([*MASSES, "--mixed-at", "2999-01-01T10:30Z"], "is still to come (it is "),
        (
            [*MASSES, "--mixed-at", "yesterday"],
            "mixed-at: 'yesterday' was read; give date and time",
        ),
        ([*MASSES, "--mixed-at", "2026-02-30T10:30"], "no date and time that there is"),
        ([*MASSES, "--mixed-at", "2026-02-03"], "give date and time such as 2026-11-01T10:30"),
        ([*MASSES, "--mixed-at", "0000-00-00T00:00"], "no date and time that there is"),
        ([*MASSES, "--mixed-at", "0001-01-01T00:00+14:00"], "no date and time that there is"),
        ([*MASSES, "--mixed-at", LONG], "give date and time"),
        (WHEN, "The mass of resin and of hardener is missing; give each such as --resin-mass 80g"),
        ([*WHEN, "--resin-mass", "80g"], "The mass of hardener is missing"),
        ([*WHEN, *MASSES, "--mass", "resin=80g"], "resin-mass: the mass of resin was given twice"),
        ([*WHEN, *MASSES, "--mass", "water=80g"], "give NAME=MASS such as hardener=28.8g"),
        ([*WHEN, *MASSES, "--mass", LONG], "give NAME=MASS"),
        ([*WHEN, "--resin-mass", "80", "--hardener-mass", "28.8g"], "resin-mass: '80' has no unit"),
        ([*WHEN, "--resin-mass", "80g", "--hardener-mass", "0g"], "hardener-mass: '0g' is nothing"),
        (
            [*WHEN, "--resin-mass", "-8g", "--hardener-mass", "1g"],
            "resin-mass: '-8g' is not within",
        ),
        ([*WHEN, *MASSES, "--note", ""], "note: nothing was given"),
        ([*WHEN, *MASSES, "--resin-lot", ""], "resin-lot: nothing was given"),
        ([*WHEN, *MASSES, "--hardener-lot", " \t"], "hardener-lot: nothing was given"),
        ([*WHEN, *MASSES, "--note", LONG], "up to 500 characters"),
        ([*WHEN, *MASSES, "--layup", "a\nb"], "one line of printable text"),
        ([*WHEN, *MASSES, "--air", "22"], "air: '22' has no unit"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_what_cannot_be_entered_makes_no_record(
    record: Path, capsys: Capture, words: list[str], said: str
) -> None:
    try:
        status: object = add(record, *words)
    except SystemExit as left:
        status = left.code
    told = capsys.readouterr()
    assert status == 2
    assert told.out == ""
    assert one_sentence(told.err)
    assert said in told.err
    assert len(told.err) < 400
    assert not record.exists()


def test_several_hardeners_are_not_one(record: Path, capsys: Capture) -> None:
    assert add(record, *MASSES, *WHEN, resin="sample-blend") == 2
    assert "give each such as --resin-mass 80g --mass fast=10g --mass slow=10g." in (
        capsys.readouterr().err
    )
    assert add(record, *MASSES, *WHEN, resin="no-such") == 2
    assert "'no-such' is no resin" in capsys.readouterr().err
