"""``cupside cure``, and what a builder tells the record of a laminate later."""

from __future__ import annotations

import json
import shutil
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.command import one_sentence
from support.facts import fact, live, opened, poured

from mixer.app.clock import Clock
from mixer.app.files.profiles import load_resin
from mixer.app.life.cure_clock import of_batch, stretches
from mixer.app.life.life import label_of
from mixer.app.request import Request
from mixer.app.resolve import resolve
from mixer.cli import main
from mixer.record.journal import Journal
from mixer.record.later import Later
from mixer.record.views import BatchRow, Moment, batch_rows
from mixer.science.cure_clock import Span, conversion, reached_s, worth_s
from mixer.science.fitting import fit

Capture = pytest.CaptureFixture[str]
MIXED = "2026-01-02T10:00Z"
BEGUN = datetime.fromisoformat(MIXED)
NOW = "2026-01-03T10:00:00.000Z"
RESIN = (Path(__file__).parents[2] / "profiles/resins/sample-36.toml").read_text("utf-8")


@pytest.fixture(autouse=True)
def _a_day_later(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Clock, "utc", lambda self: NOW)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Batch 1 and 2 of the layup "rib 3", mixed a day and 22 h before."""
    path = tmp_path_factory.mktemp("whole") / "boat.cupside"
    for hour in ("10", "12"):
        add(path, "sample-36", f"2026-01-02T{hour}:00Z", "--layup", "rib 3")
    return path


@pytest.fixture
def record(whole: Path, tmp_path: Path) -> Path:
    """A copy of its own."""
    return Path(shutil.copy(whole, tmp_path))


def add(record: Path, resin: str, at: str, *words: str) -> None:
    masses = ["--resin-mass", "80g"]
    if not {"--hardener-mass", "--mass"} & set(words):
        masses += ["--hardener-mass", "28.8g"]
    argv = ["record", "add", "--resin", resin, *masses, "--mixed-at", at, *words]
    assert main([*argv, "--record", str(record)]) == 0


def said(record: Path, capsys: Capture, *words: str) -> str:
    capsys.readouterr()
    assert main([*words, "--record", str(record)]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    return told.out


def cure(record: Path, capsys: Capture, *words: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(said(record, capsys, "cure", *words, "--json"))
    return found


def batch(record: Path, capsys: Capture, *words: str) -> dict[str, Any]:
    (one,) = cure(record, capsys, "1", *words)["batches"]
    assert isinstance(one, dict)
    return one


def test_where_nothing_is_known_cold_is_assumed(record: Path, capsys: Capture) -> None:
    found = batch(record, capsys)
    assert found["begun_utc"] == "2026-01-02T10:00:00.000Z"
    assert (found["age_h"], found["assumed_c"], found["from_now_c"]) == (24, 5, 5)
    assert found["hours_by"] == {"logged": 0, "typed": 0, "assumed": 24}
    after_s = reached_s([Span(86400, 5)], 5, 25, 86400)
    due = (BEGUN + timedelta(seconds=after_s)).isoformat(timespec="milliseconds")
    assert found["not_before"]["handling"] == due.replace("+00:00", "Z")
    assert found["not_before"]["peel_ply"] > found["not_before"]["handling"]
    assert found["worth_h"] == round(worth_s([Span(86400, 5)], 25) / 3600, 1)
    assert 0.6 < found["conversion"][0] == found["conversion"][1] < 0.75
    least, most = found["conversion_range"]
    assert 0.4 < least < found["conversion"][0] - 0.02
    assert found["conversion"][1] + 0.02 < most < 0.9
    assert f"({least:.0%} to {most:.0%} by all that is doubted)" in said(
        record, capsys, "cure", "1"
    )


def test_times_beyond_a_year_are_not_cut_short_and_are_told_as_such(
    tmp_path: Path, capsys: Capture
) -> None:
    path, mine = tmp_path / "boat.cupside", tmp_path / "warm.toml"
    warm = RESIN.replace('"25 degC"\nhandling = "24 h"', '"60 degC"\nhandling = "10 day"')
    mine.write_text(warm.replace('peel_ply = "30 h"', 'peel_ply = "20 day"'), "utf-8")
    add(path, str(mine), MIXED)
    one = batch(path, capsys)
    due = one["not_before"]
    assert due["peel_ply"] > due["handling"] > "2027-01-04"
    slow = (
        "At 5 degC the time of handling, peel ply off is more than a year ahead: it wants warmth."
    )
    assert slow in one["notes"]
    assert not [note for note in batch(path, capsys, "--air", "25 degC")["notes"] if note == slow]
    (line,) = cure(path, capsys)["curing"]
    assert "cup reused not before" in line
    shorter = warm.replace('peel_ply = "30 h"\n', "").replace('cup_reuse = "24 h"\n', "")
    mine.write_text(shorter, "utf-8")
    other = tmp_path / "other.cupside"
    add(other, str(mine), MIXED)
    (line,) = cure(other, capsys)["curing"]
    year = batch(other, capsys)["not_before"]["handling"][:4]
    assert f" {year} " in line


def test_without_a_batch_it_tells_of_all_that_cures(record: Path, capsys: Capture) -> None:
    add(record, "sample-28", "2026-01-02T20:00Z", "--hardener-mass", "22.4g")
    add(record, "sample-36", "2025-12-01T20:00Z")  # a month ago
    for words, room in (((), "degC assumed"), (("--air", "21 degC"), "if it stays at 21 degC")):
        found = cure(record, capsys, *words)
        assert [line.split(":")[0] for line in found["curing"]] == ["batch 3", "rib 3"]
        assert all("not before" in line and line.endswith(room) for line in found["curing"])
        told = said(record, capsys, "cure", *words).splitlines()
        assert told[:-1] == found["curing"]
        assert "A clock and no test" in told[-1]


@pytest.mark.parametrize("words", [(), ("--air", "21 degC")])
def test_all_and_one_of_it_rest_on_the_same_room(
    record: Path, capsys: Capture, words: tuple[str, ...]
) -> None:
    said(record, capsys, "record", "temperature", "--layup", "rib 3", "--air", "19degC")
    (line,) = cure(record, capsys, *words)["curing"]
    due = cure(record, capsys, "--layup", "rib 3", *words)["not_before"]["handling"]
    when = datetime.fromisoformat(due).astimezone()
    assert f": handling not before {when:%a} {when.day} {when:%b %H:%M}, " in line


def test_one_live_cup_alone_is_told_of(tmp_path: Path, capsys: Capture) -> None:
    path, about = tmp_path / "boat.cupside", resolve(Request("sample-36", "60g", "sim:")).about
    begun = [*poured()[3:], live()]
    with Journal.open(path) as journal:
        journal.append(
            [replace(one, utc=NOW) for one in (opened(**{**about, "layup": "rib 3"}), *begun)]
        )
    (line,) = cure(path, capsys)["curing"]
    assert line.startswith("rib 3: handling not before")


def test_where_nothing_cures_that_is_said(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "boat.cupside"
    add(path, "sample-36", "2025-12-01T20:00Z")
    assert said(path, capsys, "cure").startswith("Nothing that was mixed within a fortnight")


def test_what_is_logged_and_typed_brings_it_forward(record: Path, capsys: Capture) -> None:
    seen = [batch(record, capsys)]
    for words in (
        ["--air", "21 degC", "--at", "2026-01-02T12:00Z"],
        ["--least", "14degC", "--most", "19 C", "--from", "2026-01-02T14:00Z"],
    ):
        said(record, capsys, "record", "temperature", "1", *words)
        seen.append(batch(record, capsys))
    seen.append(batch(record, capsys, "--air", "20 degC"))
    assert [one["hours_by"] for one in seen[1:]] == [
        {"logged": 2, "typed": 0, "assumed": 22},
        {"logged": 2, "typed": 20, "assumed": 2},
        {"logged": 2, "typed": 20, "assumed": 2},
    ]
    due = [one["not_before"]["handling"] for one in seen]
    assert due == sorted(due, reverse=True)
    assert len(set(due)) == 4
    low, high = seen[-1]["conversion"]
    assert seen[0]["conversion"][0] < seen[1]["conversion"][0] < low < high
    assert seen[-1]["worth_h"] > seen[1]["worth_h"] > seen[0]["worth_h"]


def test_each_has_a_number_of_its_own(record: Path, capsys: Capture) -> None:
    for number, temp in enumerate(("19degC", "18degC", "17degC"), 1):
        told = said(record, capsys, "record", "temperature", "1", "--air", temp)
        assert f"batch 1 has temperature-{number}, {temp[:2]} degC" in told
    told = said(record, capsys, "record", "witness", "1", "--hardness", "hard")
    assert "batch 1 has witness-1, hard" in told


def test_the_latest_of_a_layup_counts(record: Path, capsys: Capture) -> None:
    told = said(record, capsys, "record", "temperature", "--layup", "rib 3", "--air", "20degC")
    assert "batch 1 has temperature-1, batch 2 has temperature-1, 20 degC" in told
    found = cure(record, capsys, "--layup", "rib 3")
    assert [one["batch"] for one in found["batches"]] == [1, 2]
    for key in ("handling", "peel_ply", "cup_reuse"):
        each = [one["not_before"][key] for one in found["batches"]]
        assert found["not_before"][key] == max(each) == each[1]
    assert "All of rib 3:" in said(record, capsys, "cure", "--layup", "rib 3")


def test_both_ways_of_asking_tell_one_time(
    record: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "XYZ-9")  # nine hours before UTC
    time.tzset()
    try:
        (late,) = cure(record, capsys)["curing"]
        told = said(record, capsys, "cure", "2")
        due = cure(record, capsys, "2")["batches"][0]["not_before"]["handling"]
    finally:
        monkeypatch.undo()
        time.tzset()
    here = datetime.fromisoformat(due) + timedelta(hours=9)
    assert f"handling      not before {here:%Y-%m-%d %H:%M} (in" in told
    assert f"{here:%H:%M}, at" in late


def test_it_says_not_before_and_never_that_it_is_done(record: Path, capsys: Capture) -> None:
    told = said(record, capsys, "cure", "1")
    for words in ("handling      not before 2026-01-0", "peel ply off  not before", "cup reused"):
        assert words in told
    assert "5 degC assumed for 24 h" in told
    resin = load_resin("sample-36")
    wanted = conversion(fit(label_of(resin)).cure, [Span(30 * 3600, 25)])
    gives = f"30 h at 25 degC give about {wanted:.0%}: it wants warmth"
    assert f"At 5 degC it turns to glass at about 63% and all but stops; {gives}" in told
    assert "from now on   5 degC (assumed; --air says otherwise)" in told
    assert "A clock and no test: the maker's data sheet comes first" in told
    said(record, capsys, "record", "temperature", "1", "--least", "40degC", "--most", "45degC",
         "--from", MIXED)  # fmt: skip
    warm = said(record, capsys, "cure", "1", "--air", "40degC")
    assert "that is past" in warm
    assert "from now on   40 degC\n" in warm
    assert "turns to glass" not in warm
    for text in (told, warm):
        assert not {"cured", "ready", "done", "finished"} & set(text.replace(",", "").split())


def test_the_witness_cup_is_asked_for_and_its_word_goes_before_the_clock(
    record: Path, capsys: Capture
) -> None:
    asks = "cupside record witness 1 --hardness hard"
    assert asks in said(record, capsys, "cure", "1")
    said(record, capsys, "record", "witness", "1", "--hardness", "Dents")
    told = said(record, capsys, "cure", "1")
    assert asks not in told
    assert "Its witness cup was dents: whatever the clock says" in told
    said(record, capsys, "record", "witness", "1", "--hardness", "82.5 Shore-D")
    assert "whatever the clock says" not in said(record, capsys, "cure", "1")
    assert batch(record, capsys)["witness"] == ["dents", "82.5 shore-d"]


def test_all_of_it_is_shown_exported_and_corrected(
    record: Path, capsys: Capture, tmp_path: Path
) -> None:
    span = ["--least", "12degC", "--most", "19degC", "--from", MIXED, "--to", "2026-01-02T22:00Z"]
    said(record, capsys, "record", "temperature", "1", *span)
    words = ["--what", "defect", "--text", "=a soft spot", "--at", "2026-01-02T23:00Z"]
    said(record, capsys, "record", "finding", "--layup", "rib 3", *words)
    change = ["record", "correct", "1", "--reason", "misread", "--field"]
    said(record, capsys, *change, "temperature-1", "--value", "10 degC to 19 degC")
    said(record, capsys, *change, "finding-1", "--value", "unknown")
    assert batch(record, capsys)["hours_by"]["typed"] == 12
    assert batch(record, capsys)["witness"] == []
    with Journal.read(record) as journal:
        facts = {entry.kind: entry.data for entry in journal.entries(batch=1)}
    assert facts["temperature"]["value"] == [12, 19]  # what was told stands
    assert facts["corrected"]["of_kind"] == "finding"
    shown = said(record, capsys, "record", "show", "1")
    assert "cure clock    cupside cure 1 says before when it may not be used" in shown
    assert "temperature-1  10 to 19 degC (2026-01-02T10:00:00.000Z to 2026-01-02T22" in shown
    assert "temperature-1: 12 to 19 degC -> 10 to 19 degC; because: misread" in shown
    assert "finding-1: =a soft spot -> unknown" in shown
    rows = json.loads(said(record, capsys, "record", "list", "--json"))
    assert rows[0]["temperatures"].startswith("10 to 19 degC (")
    assert (rows[0]["findings"], rows[1]["temperatures"]) == (None, None)
    assert rows[1]["findings"] == "defect: =a soft spot (2026-01-02T23:00:00.000Z)"
    table = tmp_path / "batches.csv"
    said(record, capsys, "record", "export", "--to", str(table))
    assert "10 to 19 degC" in table.read_text("utf-8")
    assert "The chain is whole" in said(record, capsys, "record", "verify")
    # Taken back, it counts no more, and nothing else does in its place.
    said(record, capsys, *change, "temperature-1", "--value", "unknown")
    assert batch(record, capsys)["hours_by"] == {"logged": 0, "typed": 0, "assumed": 24}


def test_a_poured_batch_goes_by_its_first_contact_and_its_own_air(
    tmp_path: Path, capsys: Capture
) -> None:
    record = tmp_path / "poured.cupside"
    profile = {"profile": {"resin": load_resin("sample-36").raw}}
    with Journal.open(record) as journal:
        journal.append([opened(**profile), *poured()[1:], live(), fact("ended", 2, how="dropped")])
    found = batch(record, capsys)
    assert found["begun_utc"] == "2024-05-01T08:00:30.000Z"  # when the hardener began to run
    assert found["hours_by"]["logged"] == 1  # the air as it was mixed, for an hour
    assert main(["cure", "2", "--record", str(record)]) == 2
    assert "Batch 2 is dropped: there is no laminate of it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("boot", "at_ms", "utc", "age_h"),
    [
        ("boot-1", 7_230_000, "2024-05-03T08:00:00.000Z", 2.0),  # set forward by two days
        ("boot-1", 7_230_000, "2024-05-01T08:30:30.000Z", 0.5),  # set back: the younger counts
        ("boot-2", 5_000, "2024-05-01T18:00:30.000Z", 10.0),
        ("boot-2", 5_000, "2024-04-30T08:00:00.000Z", 0.0),
    ],
)
def test_a_clock_that_was_set_makes_no_laminate_older(
    boot: str, at_ms: int, utc: str, age_h: float
) -> None:
    (row,) = batch_rows(
        [opened(profile={"resin": load_resin("sample-36").raw}), *poured()[1:], live()]
    )  # hardener ran in after 30 s
    found = of_batch(row, Moment(utc, at_ms, boot), None)
    assert found["age_h"] == age_h
    # No sooner than a right clock has it: so much from now on, by the clock as it is now.
    right = of_batch(row, Moment("2024-05-01T10:00:30.000Z", 7_230_000, "boot-1"), None)
    for key, due in right["not_before"].items():
        after = datetime.fromisoformat(due) - datetime.fromisoformat("2024-05-01T10:00:30Z")
        passed = timedelta(hours=age_h - 2.0)
        told = datetime.fromisoformat(found["not_before"][key]) - datetime.fromisoformat(utc)
        assert told >= after - passed - timedelta(hours=1)


def test_what_was_measured_at_the_bench_counts_too() -> None:
    facts = [*poured(), live(), fact("measured", at_ms=4 * 3_600_000, air_c=24.0, text="24 C")]
    (row,) = batch_rows(facts)
    begun, until = (datetime.fromisoformat(f"2024-05-01T{at}:00Z") for at in ("08:00", "18:00"))
    found = stretches(row, begun, until, 5.0)
    assert [(one.least_c, one.seconds / 3600) for one in found if one.by == "logged"] == [
        (21.5, 1.0),
        (24.0, 2.0),
    ]


def test_a_slip_that_was_put_right_within_two_minutes_counts_for_nothing() -> None:
    def warmest_c(*said: tuple[int, float]) -> float:
        measured = [fact("measured", at_ms=at_ms, air_c=air_c, text="") for at_ms, air_c in said]
        (row,) = batch_rows([*poured(), live(), *measured])
        begun = datetime.fromisoformat("2024-05-01T08:00:00Z")
        return max(one.most_c for one in stretches(row, begun, begun + timedelta(hours=9), 5.0))

    assert warmest_c((4 * 3_600_000, 41.0), (4 * 3_600_000 + 119_000, 14.0)) == 21.5
    assert warmest_c((4 * 3_600_000, 41.0), (4 * 3_600_000 + 121_000, 14.0)) == 41


@pytest.mark.parametrize("coldest_c", [2.0, -8.0, -30.0, 12.0])
@pytest.mark.parametrize("how", ["read", "typed"])
def test_a_room_of_which_nothing_is_known_was_no_warmer_than_it_was_ever_seen(
    record: Path, coldest_c: float, how: str
) -> None:
    until = at(3) if how == "read" else at(5)
    seen = Later("temperature", 1, [coldest_c, coldest_c], at(3), until)
    with Journal.read(record) as reader:
        row = replace(batch_rows(reader.entries(1))[0], later=(seen,))
    found = of_batch(row, Moment(NOW, 0, "boot-9"), None)
    assumed_c = max(-10.0, min(5.0, coldest_c))
    assert (found["assumed_c"], found["from_now_c"]) == (assumed_c, assumed_c)
    due = datetime.fromisoformat(found["not_before"]["handling"])
    if coldest_c < 5:  # it was so cold all the time
        after_s = reached_s([Span(86400, assumed_c)], assumed_c, 25, 86400)
        assert (due - BEGUN).total_seconds() == pytest.approx(after_s, abs=0.01)


def test_where_first_contact_is_lost_the_cure_begins_as_it_went_live() -> None:
    facts = [entry for entry in [*poured(), live()] if entry.kind != "begun"]
    (row,) = batch_rows(facts)
    found = of_batch(row, Moment("2024-05-02T08:00:00.000Z", 5_000, "boot-2"), None)
    assert found["begun_utc"] == "2024-05-01T08:02:40.000Z"


def test_the_profile_that_was_poured_counts_and_not_the_file_of_today(
    tmp_path: Path, capsys: Capture
) -> None:
    mine, record = tmp_path / "mine.toml", tmp_path / "boat.cupside"
    mine.write_text(RESIN.replace('handling = "24 h"', 'handling = "40 h"'), "utf-8")
    add(record, str(mine), MIXED)
    before = batch(record, capsys)["not_before"]
    mine.write_text(RESIN, "utf-8")
    assert batch(record, capsys)["not_before"] == before
    start, end = RESIN.index("[pot_life]"), RESIN.index("[room]")
    mine.write_text(RESIN[:start] + RESIN[end:], "utf-8")
    add(record, str(mine), MIXED)
    (silent,) = cure(record, capsys, "2")["batches"]
    assert (silent["conversion"], silent["not_before"], silent["worth_h"]) == (None, {}, None)
    told = said(record, capsys, "cure", "2")
    assert "No conversion: mine has no pot life in its profile" in told
    assert "Its profile has no [cure] with times: the maker's data sheet says" in told
    assert "not before" not in told


def test_a_layup_has_no_time_where_a_batch_of_it_has_none(
    record: Path, tmp_path: Path, capsys: Capture
) -> None:
    mine = tmp_path / "mine.toml"
    start, end = RESIN.index("[cure]"), RESIN.index("[room]")
    mine.write_text(RESIN[:start] + RESIN[end:], "utf-8")
    before = cure(record, capsys, "--layup", "rib 3")
    add(record, str(mine), MIXED, "--layup", "rib 3")
    found = cure(record, capsys, "--layup", "rib 3")
    assert (before["notes"], set(found["not_before"].values())) == ([], {None})
    assert None not in before["not_before"].values()
    told = said(record, capsys, "cure", "--layup", "rib 3").split("All of rib 3:")[1]
    assert "not before" not in told
    assert "no time, as none is known of batch 3" in told


def test_a_time_that_one_data_sheet_alone_tells_is_the_layups_and_the_other_is_named(
    record: Path, tmp_path: Path, capsys: Capture
) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text(RESIN.replace('peel_ply = "30 h"\n', ""), "utf-8")
    assert mine.read_text("utf-8") != RESIN
    before = cure(record, capsys, "--layup", "rib 3")["not_before"]["peel_ply"]
    add(record, str(mine), MIXED, "--layup", "rib 3")
    found = cure(record, capsys, "--layup", "rib 3")
    assert found["not_before"]["peel_ply"] == before
    assert found["notes"] == [
        "Peel ply off: none is known of batch 3, and the maker's data sheet says how long that "
        "one wants."
    ]


def test_a_witness_cup_that_was_hard_sooner_than_any_time_is_to_be_tried_again(
    record: Path, capsys: Capture
) -> None:
    tried = ["record", "witness", "1", "--hardness", "hard", "--at"]
    said(record, capsys, *tried, "2026-01-02T10:01Z")
    assert "hard sooner than its clock has any time: try it again" in said(
        record, capsys, "cure", "1"
    )
    assert batch(record, capsys)["witness_early"] is True


def test_a_label_that_is_steeper_than_usual_makes_less_of_a_cold_night(
    tmp_path: Path, capsys: Capture
) -> None:
    mine, record = tmp_path / "mine.toml", tmp_path / "boat.cupside"
    second = 'mass = "100 g"\ntemperature = "15 degC"\ntime = "80 min"\n'
    steep = RESIN.replace('ends = "gel"\n', f'ends = "gel"\n[pot_life.second]\n{second}')
    for text in (RESIN, steep):
        mine.write_text(text, "utf-8")
        add(record, str(mine), MIXED)
    usual, cold = (cure(record, capsys, number)["batches"][0] for number in ("1", "2"))
    assert cold["worth_h"] < 0.9 * usual["worth_h"]
    assert cold["not_before"]["handling"] > usual["not_before"]["handling"]


BACK = ["--least", "9degC", "--most", "19degC", "--from", "2026-01-02T18:00Z"]


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (["temperature", "1"], "Give --air with the temperature"),
        (["temperature", "--air", "20degC"], "Give the number of a batch, such as 3, or --layup"),
        (["temperature", "1", "--layup", "rib 3", "--air", "20degC"], "Give the number of a batch"),
        (["temperature", "1", "--air", "20degC", *BACK], "Give --air with the temperature"),
        (["temperature", "1", "--least", "9degC", "--most", "19degC"], "Give --air with the"),
        (["temperature", "1", "--air", "20"], "air: '20' has no unit"),
        (["temperature", "1", "--air", "61degC"], "air: '61degC' is not within -10 to 60 degC"),
        (["temperature", "1", "--air", "-11degC"], "air: '-11degC' is not within -10 to 60"),
        (["temperature", "1", *BACK, "--to", "2026-01-02T17:00Z"], "from: '2026-01-02T18:00Z' is"),
        (["temperature", "1", *BACK[:1], "20degC", *BACK[2:]], "least: 20 degC is more than the"),
        (["temperature", "1", "--air", "9degC", "--at", "2026-01-04T10:00Z"], "is still to come"),
        (["temperature", "1", "--air", "9degC", "--at", "2026-01-02"], "at: '2026-01-02' was read"),
        (["temperature", "1", "--air", "9degC", "--at", "2025-01-02T10:00Z"], "before batch 1 was"),
        (["temperature", "3", "--air", "9degC"], "There is no batch 3 in the record"),
        (["temperature", "one", "--air", "9degC"], "batch: 'one' was read"),
        (["temperature", "--layup", "wing", "--air", "9degC"], "layup: no batch of 'wing' is in"),
        (["witness", "1", "--hardness", "fine"], "hardness: 'fine' was read; give tacky, dents"),
        (["witness", "1", "--hardness", "120 shore-d"], "hardness: '120 shore-d' was read"),
        (["witness", "1", "--hardness", "80"], "with its scale (shore-d or barcol)"),
        (["finding", "1", "--what", "crack", "--text", "x"], "what: 'crack' was read; give one of"),
        (["finding", "1", "--what", "defect", "--text", " "], "text: nothing was given"),
        (["finding", "1", "--what", "defect", "--text", "a\nb"], "one line of printable text"),
        (["correct", "1", "--field", "witness-1", "--value", "hard", "--reason", "x"], "accepted"),
    ],
)
def test_what_cannot_be_kept_is_one_sentence_and_changes_nothing(
    record: Path, capsys: Capture, words: list[str], error: str
) -> None:
    before = record.read_bytes()
    assert main(["record", *words, "--record", str(record)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert error in told.err
    assert record.read_bytes() == before


@pytest.mark.parametrize(
    "words",
    [
        ["temperature", "1", "--air", "60 degC"], ["temperature", "1", "--air", "-10 degC"],
        ["witness", "1", "--hardness", "100 barcol"], ["witness", "1", "--hardness", "0 shore-d"],
    ],
)  # fmt: skip
def test_the_ends_of_a_range_belong_to_it(record: Path, capsys: Capture, words: list[str]) -> None:
    assert "It is kept: batch 1 has " in said(record, capsys, "record", *words)


def test_a_time_that_never_was_counts_for_nothing() -> None:
    seen = [
        Later("temperature", 1, [30, 30], start, end)
        for start, end in ((at(1), "soon"), ("soon", at(1)), ("2026-01-02T11:00", at(1)))
    ]
    found = stretches(BatchRow(1, later=tuple(seen)), BEGUN, BEGUN + timedelta(hours=3), 5.0)
    assert {one.by for one in found} == {"assumed"}


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (["7"], "There is no batch 7 in the record"),
        (["--layup", "wing"], "layup: no batch of 'wing' is in the record"),
        (["1", "--air", "70degC"], "air: '70degC' is not within -10 to 60 degC"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence(
    record: Path, capsys: Capture, words: list[str], error: str
) -> None:
    assert main(["cure", *words, "--record", str(record)]) == 2
    told = capsys.readouterr()
    assert (told.out, one_sentence(told.err)) == ("", True)
    assert error in told.err


HOURS = st.floats(-30, 60)
READING = st.tuples(HOURS, st.floats(-10, 60))
KEPT = st.tuples(HOURS, st.floats(0.1, 30), st.floats(-10, 25), st.floats(0, 20))


def at(hours: float) -> str:
    return (BEGUN + timedelta(hours=hours)).isoformat(timespec="milliseconds")


@settings(deadline=None, max_examples=60)
@given(st.lists(READING, max_size=5), st.lists(KEPT, max_size=3), st.floats(0.5, 50))
def test_every_minute_since_has_one_temperature(
    readings: list[tuple[float, float]], kept: list[tuple[float, float, float, float]], age_h: float
) -> None:
    seen = [Later("temperature", 1, [c, c], at(h), at(h)) for h, c in readings]
    seen += [
        Later("temperature", 1, [low, low + more], at(h), at(h + span))
        for h, span, low, more in kept
    ]
    found = stretches(BatchRow(1, later=tuple(seen)), BEGUN, BEGUN + timedelta(hours=age_h), 5.0)
    assert sum(one.seconds for one in found) == pytest.approx(age_h * 3600, abs=0.1)
    temps = {c for _, c in readings} | {low for _, _, low, _ in kept} | {5.0}
    assert all(one.least_c in temps and one.least_c <= one.most_c for one in found)
    hours = 0.0
    for one in found:
        middle, hours = hours + one.seconds / 7200, hours + one.seconds / 3600
        if one.seconds < 1:  # times are kept to the millisecond: which it was is hard to say
            continue
        if one.by == "assumed":
            assert (one.least_c, one.most_c) == (5.0, 5.0)
        near = sorted((abs(h - middle), c) for h, c in readings)
        if one.by == "logged":  # what was read within the hour, and next to it
            assert near[0][0] <= 1
            assert one.least_c == one.most_c
            assert one.least_c in [c for away, c in near if away < near[0][0] + 1e-6]
        if one.by == "typed":
            over = [(low, low + more) for h, s, low, more in kept if h <= middle <= h + s]
            assert one.least_c == min(low for low, _ in over)
            assert one.most_c == max(most for _, most in over)


@pytest.mark.parametrize(
    ("hardener", "told"),
    [
        ("14.4g", "It was weighed with 50.0 % too little hardener and may never cure"),
        ("60g", "It was weighed with 108.3 % too much hardener and may never cure"),
        ("27.9g", "It was weighed with 3.1 % too little hardener and may never cure"),
    ],
)
def test_a_batch_that_is_off_its_ratio_has_no_time(
    tmp_path: Path, capsys: Capture, hardener: str, told: str
) -> None:
    """At half of its hardener at most half of the epoxide can react, whenever."""
    record = tmp_path / "boat.cupside"
    add(record, "sample-36", MIXED, "--layup", "rib 3", "--hardener-mass", hardener)
    add(record, "sample-36", MIXED, "--layup", "rib 3")
    found = batch(record, capsys)
    assert (found["conversion"], found["conversion_range"], found["worth_h"]) == (None, None, None)
    assert set(found["not_before"].values()) == {None}
    assert any(note.startswith(told) for note in found["notes"])
    said_of_it = said(record, capsys, "cure", "1")
    assert f"{told} as the label says: its witness cup and the maker's word decide" in said_of_it
    layup = said(record, capsys, "cure", "--layup", "rib 3")
    whole = layup.split("All of rib 3:")[1]
    assert "All of it has no time, as none is known of batch 1: see there." in whole
    assert "not before" not in whole
    (late,) = cure(record, capsys)["curing"]
    assert late.startswith("rib 3: batch 1 was weighed with ")
    for text in (said_of_it, whole, late):
        assert "that is past" not in text
        assert "reacted" not in text


@pytest.mark.parametrize(
    ("resin", "masses", "of", "off", "told"),
    [
        ("sample-blend", ("fast=28.8g", "slow=0.1g"), "fast", 0.5, "50.0 % too much fast"),
        ("sample-blend", ("fast=9.6g", "slow=19.2g"), "slow", 1.0, "100.0 % too much slow"),
        ("sample-tinted", ("pigment=8g", "hardener=28.8g"), "pigment", 1.5, "150.0 % too much p"),
        ("sample-tinted", ("pigment=8g", "hardener=14.4g"), "hardener", -0.5, "50.0 % too little"),
    ],
)
def test_a_batch_with_one_component_off_its_own_share_has_no_time(
    tmp_path: Path, capsys: Capture, resin: str, masses: tuple[str, str], of: str, off: float,
    told: str,
) -> None:  # fmt: skip
    record = tmp_path / "boat.cupside"
    add(record, resin, MIXED, *(word for mass in masses for word in ("--mass", mass)))
    found = batch(record, capsys)
    assert (found["conversion"], found["worth_h"]) == (None, None)
    assert (found["off_ratio"], next(iter(found["off"]))) == (pytest.approx(off), of)
    assert f"It was weighed with {told}" in said(record, capsys, "cure", "1")
    (late,) = cure(record, capsys)["curing"]
    assert late.startswith(f"batch 1: batch 1 was weighed with {told}")


def test_of_a_batch_that_is_unproven_the_times_are_those_of_a_right_one(
    record: Path, capsys: Capture
) -> None:
    said_of_it = "Its ratio is unproven (its weights were typed in): these times are those of a"
    assert said_of_it in said(record, capsys, "cure", "1")
    (right,) = batch_rows([*poured(), live()])
    now = Moment("2024-05-02T08:00:00.000Z", 5_000, "boot-2")
    assert not any("unproven" in note for note in of_batch(right, now, None)["notes"])


def test_what_its_corrected_masses_come_to_counts(tmp_path: Path, capsys: Capture) -> None:
    record = tmp_path / "boat.cupside"
    for hardener in ("14.4g", "28g"):
        add(record, "sample-36", MIXED, "--hardener-mass", hardener)
    assert "reacted" in said(record, capsys, "cure", "2")  # 2.8 % off, of 3 % that are allowed
    for number, right in (("1", "28.8g"), ("2", "27g")):
        words = ["--field", "hardener-mass", "--value", right, "--reason", "misread"]
        said(record, capsys, "record", "correct", number, *words)
    assert "reacted" in said(record, capsys, "cure", "1")
    assert "6.2 % too little hardener" in said(record, capsys, "cure", "2")
