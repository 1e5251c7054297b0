"""``record correct``: what may be corrected, how it is parsed, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from support.command import one_sentence
from support.facts import fact, live, poured

from mixer.app.book.late_correction import correction
from mixer.app.sentence import NotDone
from mixer.cli import main
from mixer.record.journal import Journal
from mixer.record.views import batch_rows

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def record(tmp_path: Path) -> Path:
    """Batch 1 is closed with 9 g left, batch 2 is live; batch 3 was typed in."""
    path = tmp_path / "boat.cupside"
    with Journal.open(path) as journal:
        closed = fact("closed", at_ms=900_000, how="left", left_ug=9_000_000)
        journal.append([*poured(1), live(1), closed, *poured(2), live(2, cup=2)])
    words = ["--resin", "sample-36", "--resin-mass", "80g", "--hardener-mass", "28.8g"]
    assert main(["record", "add", *words, "--mixed-at", "2026-01-02T10:30Z", *at(path)]) == 0
    return path


def at(record: Path) -> list[str]:
    return ["--record", str(record)]


def correct(record: Path, batch: int, field: str, value: str, reason: str = "misread") -> int:
    words = [str(batch), f"--field={field}", f"--value={value}", f"--reason={reason}"]
    return main(["record", "correct", *words, *at(record)])


def rows(record: Path, capsys: Capture) -> dict[int, dict[str, Any]]:
    capsys.readouterr()
    assert main(["record", "list", "--json", *at(record)]) == 0
    return {row["batch"]: row for row in json.loads(capsys.readouterr().out)}


def entries(record: Path) -> list[Any]:
    with Journal.read(record) as journal:
        return list(journal.entries())


@pytest.mark.parametrize(
    ("batch", "field", "value", "column", "now"),
    [
        (1, "operator", "CD", "operator", "CD"),
        (1, "resin_lot", "R-18", "resin_lot", "R-18"),
        (1, "resin-lot", "unknown", "resin_lot", None),
        (2, "layup", "fin, =left", "layup", "fin, =left"),
        (2, "plies", "3-4", "plies", "3-4"),
        (1, "air_c", "50 degF", "air_c", 10),
        (1, "air", "-5degC", "air_c", -5),
        (1, "resin-temp", "19.5 degC", "resin_c", 19.5),
        (1, "rh", "60%", "rh_pct", 60),
        (1, "left", "0.3 oz", "left_g", 8.504857),
        (1, "left_g", "unknown", "left_g", None),
        (3, "left_g", "20g", "left_g", 20),
        (3, "resin_g", "79.5 g", "resin_g", 79.5),
        (3, "mixed_at", "2026-01-03T10:30+01:00", "opened_utc", "2026-01-03T09:30:00.000Z"),
    ],
)
def test_the_newest_value_counts_and_the_old_one_stands(
    record: Path, capsys: Capture, batch: int, field: str, value: str, column: str, now: Any
) -> None:
    before, facts = rows(record, capsys), entries(record)
    assert correct(record, batch, field, value) == 0
    assert one_sentence(capsys.readouterr().out)
    after = rows(record, capsys)
    assert after[batch][column] == now
    assert "misread; " in after[batch]["corrections"]
    assert entries(record)[:-1] == facts  # nothing was changed, one fact was added
    follows = {"dew_point_c", "dew_margin_c", "ratio_actual", "ratio_deviation_pct"}
    follows |= {"record_facts", "record_head"}
    for number, row in after.items():
        changed = {key for key in row if row[key] != before[number][key]} - follows
        assert changed == ({column, "corrections"} if number == batch else set())


def test_the_dew_point_follows_the_air(record: Path, capsys: Capture) -> None:
    # 25 degC at 55 %: 15.3 degC by the Magnus form, as in tests/science.
    assert correct(record, 1, "air", "25 degC") == 0
    assert rows(record, capsys)[1]["dew_point_c"] == 15.3
    assert correct(record, 1, "rh", "unknown") == 0
    assert rows(record, capsys)[1]["dew_point_c"] is None


def test_the_ratio_follows_a_typed_mass_and_proves_nothing(record: Path, capsys: Capture) -> None:
    assert correct(record, 3, "hardener_g", "32g", "slip of the pen") == 0
    row = rows(record, capsys)[3]
    assert (row["ratio_actual"], row["ratio_deviation_pct"], row["verdict"]) == (
        40,
        11.11,
        "unproven",
    )
    assert "off by 11.1 %, more than the 3 % allowed" in row["unproven_because"]
    assert row["corrections"].startswith("hardener_g: 28.8 -> 32 (slip of the pen; ")


def test_a_correction_of_a_correction_names_it(record: Path, capsys: Capture) -> None:
    assert correct(record, 1, "air", "20 degC") == 0
    assert correct(record, 2, "air", "19 degC") == 0
    assert correct(record, 1, "air", "18 degC", "misread again") == 0
    first, _, second = (e for e in entries(record) if e.kind == "corrected")
    assert (first.data["of_seq"], first.data["of_kind"]) == (1, "opened")
    seq = entries(record).index(first) + 1
    assert (second.data["of_seq"], second.data["of_kind"]) == (seq, "corrected")
    assert (second.data["was"], second.data["value"]) == (20, 18)
    corrections = rows(record, capsys)[1]["corrections"]
    assert corrections.index("air_c: 21.5 -> 20 (misread;") < corrections.index(
        "air_c: 20 -> 18 (misread again;"
    )


def test_what_was_left_corrects_the_closing(record: Path) -> None:
    assert correct(record, 1, "left", "8g") == 0
    (said,) = (e.data for e in entries(record) if e.kind == "corrected")
    assert (said["field"], said["of_kind"], said["text"]) == ("left_ug", "closed", "8g")


def test_a_note_is_added_beside_the_others(record: Path, capsys: Capture) -> None:
    assert correct(record, 1, "note", "a soft spot", "found by tapping") == 0
    assert correct(record, 1, "note", "cut out and mended", "done today") == 0
    row = rows(record, capsys)[1]
    assert row["note"] == "a soft spot | cut out and mended"
    assert "note added: a soft spot (found by tapping; " in row["corrections"]


LONG = "x" * 1_000_000


@pytest.mark.parametrize(
    ("batch", "field", "value", "reason", "said"),
    [
        (1, "resin_g", "44g", "typo", "resin_g of batch 1 was weighed by a scale"),
        (1, "tare_g", "4g", "typo", "was weighed by a scale and is not corrected; accepted are"),
        (1, "verdict", "in-band", "typo", "'verdict' of batch 1 cannot be corrected; accepted are"),
        (1, "mixed_at", "2026-01-01T10:00", "typo", "cannot be corrected; accepted are"),
        (1, LONG, "x", "typo", "cannot be corrected; accepted are"),
        (1, "air", "22", "typo", "air: '22' has no unit; give a temperature"),
        (1, "air", LONG, "typo", "is too long; give a temperature"),
        (1, "air", "21.5 degC", "typo", "air_c of batch 1 is 21.5 already"),
        (1, "rh", "101%", "typo", "not within 0 % and 100 %"),
        (1, "operator", "", "typo", "operator: nothing was given"),
        (1, "operator", LONG, "typo", "up to 500 characters"),
        (1, "operator", "A\nB", "typo", "one line of printable text"),
        (1, "operator", "A\u202eB", "typo", r"'A\u202eB' was read; give one line"),
        (1, "operator", "\x1b[2J", "typo", r"'\x1b[2J' was read"),
        (1, "operator", "CD", " ", "reason: nothing was given"),
        (1, "operator", "CD", LONG, "reason: 'xxx"),
        (1, "note", "", "typo", "note: nothing was given"),
        (1, "left", "61g", "typo", "more than batch 1 ever had, 60 g"),
        (2, "left", "6g", "typo", "cannot be corrected, as the batch is live"),
        (3, "hardener_g", "0g", "typo", "give a mass above zero"),
        (3, "mixed_at", "2999-01-01T10:00", "typo", "is still to come"),
        (4, "operator", "CD", "typo", "There is no batch 4 in the record"),
    ],
)  # fmt: skip
def test_what_cannot_be_corrected_changes_nothing(
    record: Path, capsys: Capture, batch: int, field: str, value: str, reason: str, said: str
) -> None:
    before = entries(record)
    capsys.readouterr()
    assert correct(record, batch, field, value, reason) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert said in told.err
    assert len(told.err) < 600
    assert entries(record) == before


@pytest.mark.parametrize("batch", ["0", "-1", "one", "1.0", "٣", "9" * 400])
def test_a_batch_that_is_no_number(record: Path, capsys: Capture, batch: str) -> None:
    capsys.readouterr()
    words = [f"--{name}=operator" for name in ("field", "value", "reason")]
    assert main(["record", "correct", *words, *at(record), "--", batch]) == 2
    assert "give the number of a batch, such as 3." in capsys.readouterr().err


def test_while_another_program_writes_it_is_told_so(
    record: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = Journal.open
    with opened(record) as other:
        other.claim()
        monkeypatch.setattr(
            "mixer.app.book.paperwork.Journal.open",
            lambda path, **how: opened(path, busy_s=0.05, **how),
        )
        capsys.readouterr()
        assert correct(record, 1, "operator", "CD") == 2
        assert one_sentence(capsys.readouterr().err)
        other.release()
    assert correct(record, 1, "operator", "CD") == 0


def test_what_a_correction_takes_back_is_told_where_its_fact_does_not(
    record: Path, capsys: Capture
) -> None:
    assert main(["air", "32degC", *at(record)]) == 0
    assert main(["thick", "2", *at(record)]) == 0
    (row,) = batch_rows(entry for entry in entries(record) if entry.batch == 2)
    minutes = row.thickened[2] / 60
    with Journal.open(record) as journal:
        for field in ("air-1", "thickened-2"):
            said = {"field": field, "was": None, "value": None, "reason": "a slip"}
            journal.append([fact("corrected", 2, **said)])
    capsys.readouterr()
    assert main(["record", "show", "2", *at(record)]) == 0
    told = capsys.readouterr().out
    assert "air-1: 32 -> unknown; because: a slip" in told
    assert f"thickened-2: {minutes:.1f} min after first contact -> unknown" in told


def test_the_air_below_zero_is_a_figure_and_no_option(record: Path, capsys: Capture) -> None:
    assert main(["air", "-5degC", *at(record)]) == 0
    assert capsys.readouterr().out == "The air is at -5 degC: kept for the live cups (2).\n"
    assert main(["air", *at(record), "-11degC"]) == 2
    assert "air: '-11degC' is not within -10 to 60 degC" in capsys.readouterr().err


def test_what_was_said_of_a_live_cup_by_command_is_kept_and_can_be_taken_back(
    record: Path, capsys: Capture
) -> None:
    assert main(["air", "32degC", *at(record)]) == 0
    assert main(["air", "22degC", *at(record)]) == 0
    assert main(["thick", "2", *at(record)]) == 0
    assert "kept for the live cups (2)" in capsys.readouterr().out
    assert main(["thick", "2", *at(record)]) == 2
    assert (
        "--field thickened-2 --value unknown --reason '…' takes it back" in capsys.readouterr().err
    )
    assert correct(record, 2, "air-1", "23 degC") == 0
    assert correct(record, 2, "air-2", "unknown") == 0
    assert rows(record, capsys)[2]["thickened_min"] is not None
    assert correct(record, 2, "thickened-2", "unknown", "the wrong cup") == 0
    assert "unknown now, and was" in capsys.readouterr().out
    assert rows(record, capsys)[2]["thickened_min"] is None
    (row,) = batch_rows(entry for entry in entries(record) if entry.batch == 2)
    assert [air_c for _, air_c in row.measured] == [23]
    assert [entry.data["of_kind"] for entry in entries(record) if entry.kind == "corrected"] == [
        *("measured", "measured", "thickened"),
    ]
    assert main(["thick", "2", *at(record)]) == 0  # and can be said anew


def test_the_air_that_was_said_of_several_batches_is_told_where_it_still_stands(
    record: Path, capsys: Capture
) -> None:
    with Journal.open(record) as journal:
        journal.append([*poured(4), live(4, cup=4), fact("measured", 4, 900_000, air_c=32)])
        journal.append([*poured(5), live(5, cup=5)])
    assert main(["air", "32degC", *at(record)]) == 0
    assert main(["air", "21degC", *at(record)]) == 0  # another one, right after it
    capsys.readouterr()
    assert correct(record, 2, "air-1", "23 degC") == 0
    assert capsys.readouterr().out.endswith(
        "the reason. It was said of other batches too, where it still stands: 4 (air-2: 32 degC), "
        "5 (air-1: 32 degC).\n"
    )
    assert correct(record, 4, "air-2", "unknown") == 0
    assert capsys.readouterr().out.endswith(" still stands: 5 (air-1: 32 degC).\n")
    assert correct(record, 5, "air-1", "23 degC") == 0
    assert capsys.readouterr().out.endswith("the reason.\n")
    assert correct(record, 2, "air-1", "24 degC") == 0  # what was corrected is none of theirs
    assert capsys.readouterr().out.endswith("the reason.\n")
    assert correct(record, 4, "air-1", "23 degC") == 0
    assert capsys.readouterr().out.endswith("the reason.\n")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["air", "24"], "no unit"),
        (["air", "70degC"], "-10 to 60 degC"),
        (["thick", "1"], "live cups: 2"),
        (["thick", "x"], "live cups: 2"),
    ],
)
def test_what_cannot_be_of_a_live_cup_is_refused(
    record: Path, capsys: Capture, words: list[str], said: str
) -> None:
    before = len(entries(record))
    capsys.readouterr()
    assert main([*words, *at(record)]) == 2
    err = capsys.readouterr().err
    assert said in err
    assert one_sentence(err)
    assert len(entries(record)) == before


@pytest.mark.parametrize(("field", "value"), [("thickened-2", "12 min"), ("air-1", "70 degC")])
def test_what_was_said_of_a_cup_is_not_corrected_to_anything(
    record: Path, field: str, value: str
) -> None:
    assert main(["air", "22degC", *at(record)]) == 0
    assert main(["thick", "2", *at(record)]) == 0
    assert correct(record, 2, field, value) == 2
    assert correct(record, 2, "air-2", "20 degC") == 2


def test_a_share_that_was_typed_wrong_is_put_right_and_one_that_was_weighed_is_not(
    record: Path, capsys: Capture
) -> None:
    assert main(["split", "2", "--into", "3g", "--into", "?", *at(record)]) == 0
    weighed = {"cup": 6, "of": 2, "mass_ug": 5_000_000, "weights": "scale"}
    with Journal.open(record) as journal:
        journal.append([fact("shared", 2, 500_000, **weighed)])
    assert correct(record, 2, "share-1", "30 g") == 0
    assert "share-1 is 30 g now, and was 3 g" in capsys.readouterr().out
    assert correct(record, 2, "share-3", "4 g") == 0
    (row,) = batch_rows(entry for entry in entries(record) if entry.batch == 2)
    whole_ug = row.sum_ug() or 0
    held = {cup.number: (cup.mass_ug, cup.weights) for cup in row.cups}
    assert held[1] == (30_000_000, "typed")
    assert held[3] == (4_000_000, "typed")
    assert held[2] == (whole_ug - 39_000_000, "rest")
    assert correct(record, 2, "share-3", "unknown") == 0
    for field, value in (("share-6", "9 g"), ("share-1", "900 g"), ("share-1", "0 g")):
        assert correct(record, 2, field, value) == 2
    (row,) = batch_rows(entry for entry in entries(record) if entry.batch == 2)
    assert {cup.number: cup.mass_ug for cup in row.cups}[6] == 5_000_000


@pytest.mark.parametrize(
    ("field", "value", "column", "now"),
    [
        ("mixed-at", "2026-01-03T10:30Z", "opened_utc", "2026-01-03T10:30:00.000Z"),
        ("resin-mass", "79.5 g", "resin_g", 79.5),
        ("hardener-mass", "28 g", "hardener_g", 28),
        ("mass", "hardener=28 g", "hardener_g", 28),
    ],
)
def test_the_words_by_which_it_was_entered_correct_it(
    record: Path, capsys: Capture, field: str, value: str, column: str, now: Any
) -> None:
    assert correct(record, 3, field, value) == 0
    assert rows(record, capsys)[3][column] == now


@pytest.mark.parametrize("field", ["resin", "resin_system"])
def test_the_resin_of_a_late_entry_is_corrected_with_all_that_follows(
    record: Path, capsys: Capture, field: str
) -> None:
    before = rows(record, capsys)[3]
    assert correct(record, 3, field, "sample-28", "read off the wrong jug") == 0
    assert "resin_system is sample-28 now, and was sample-36" in capsys.readouterr().out
    row = rows(record, capsys)[3]
    assert (row["resin_system"], row["ratio_target"], row["ratio_actual"]) == ("sample-28", 28, 36)
    assert row["verdict"] == "unproven"
    assert "off by 28.6 %" in row["unproven_because"]
    assert row["resin_g"] == before["resin_g"]
    assert "sample-36 -> sample-28 (read off the wrong jug; " in row["corrections"]
    with Journal.read(record) as journal:
        (batch,) = batch_rows(journal.entries(3))
    assert batch.opened["profile"]["resin"]["name"] == "sample-28"
    assert correct(record, 3, "hardener-mass", "22.4g") == 0  # it goes by the new ratio
    row = rows(record, capsys)[3]
    assert (row["ratio_actual"], row["unproven_because"]) == (28, "its weights were typed in")
    assert correct(record, 3, field, "sample-28") == 2
    assert "already" in capsys.readouterr().err


def test_a_resin_of_other_components_is_another_entry(record: Path, capsys: Capture) -> None:
    facts = entries(record)
    assert correct(record, 3, "resin", "sample-tinted") == 2
    said = capsys.readouterr().err
    assert one_sentence(said)
    assert "outcome" in said
    assert correct(record, 1, "resin", "sample-28") == 2
    assert entries(record) == facts


def test_an_entry_that_was_made_twice_is_withdrawn_and_can_be_taken_back(
    record: Path, capsys: Capture
) -> None:
    assert correct(record, 3, "layup", "fin") == 0
    assert correct(record, 3, "outcome", "withdrawn", "entered twice, as batch 2") == 0
    row = rows(record, capsys)[3]
    assert (row["outcome"], row["resin_g"]) == ("withdrawn", 80)
    assert "outcome: entered -> withdrawn (entered twice, as batch 2; " in row["corrections"]
    with Journal.read(record) as journal:
        assert journal.batches("withdrawn") == [3]
        assert journal.batches("entered") == []
    assert main(["record", "verify", *at(record)]) == 0
    finding = ["record", "finding", "3", "--what", "defect", "--text", "soft", *at(record)]
    assert main(finding) == 2  # there is no laminate of it
    assert correct(record, 3, "outcome", "entered", "it was not") == 0
    assert rows(record, capsys)[3]["outcome"] == "entered"
    with Journal.read(record) as journal:
        assert journal.batches("entered") == [3]
    assert main(["record", "verify", *at(record)]) == 0


@pytest.mark.parametrize(("batch", "value"), [(1, "withdrawn"), (2, "withdrawn"), (3, "closed")])
def test_only_what_was_typed_in_is_withdrawn(
    record: Path, capsys: Capture, batch: int, value: str
) -> None:
    facts = entries(record)
    assert correct(record, batch, "outcome", value) == 2
    assert one_sentence(capsys.readouterr().err)
    assert entries(record) == facts


@pytest.mark.parametrize(("field", "value"), [("resin_g", "1g"), ("hardener-mass", "0.5g")])
def test_an_entry_is_not_corrected_to_less_than_was_left_of_it(
    record: Path, capsys: Capture, field: str, value: str
) -> None:
    assert correct(record, 3, "left", "100g") == 0
    before = entries(record)
    capsys.readouterr()
    assert correct(record, 3, field, value) == 2
    said = capsys.readouterr().err
    assert one_sentence(said)
    assert "100 g of it are said to be left" in said
    assert entries(record) == before
    assert correct(record, 3, "resin_g", "71.2g") == 0


def test_an_entry_was_mixed_before_it_was_typed(record: Path) -> None:
    row = batch_rows(entries(record))[2]
    assert row.entered_at is not None
    later = "2998-01-01T10:00Z"
    with pytest.raises(NotDone, match="is after batch 3 was entered"):
        correction(row, "mixed_at", later, "2999-01-01T00:00:00.000Z")
    at_once = correction(row, "mixed_at", row.entered_at.utc[:19] + "Z", row.entered_at.utc)
    assert at_once is not None
