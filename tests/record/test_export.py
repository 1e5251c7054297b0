"""The CSV: exact figures, harmless texts, whole files."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, opened, poured

from mixer.record import csv_file
from mixer.record.csv_file import harmless, write_csv
from mixer.record.envelope import Entry, RecordError
from mixer.record.export import COLUMNS, rows
from mixer.record.journal import Journal

FIRST = [
    "batch",
    "cup",
    "opened_utc",
    "live_utc",
    "closed_utc",
    "resin_system",
    "resin_source",
    "size_g",
    "tare_g",
    "resin_g",
    "hardener_g",
    "ratio_target",
    "ratio_actual",
    "ratio_deviation_pct",
    "verdict",
    "weights",
    "air_c",
    "resin_c",
    "rh_pct",
    "dew_point_c",
    "resin_lot",
    "hardener_lot",
    "operator",
    "layup",
    "plies",
    "left_g",
    "note",
]
CLOSED = fact("closed", at_ms=900_000, how="left", left_ug=9_000_000)


def written(entries: list[Entry], path: Path) -> list[dict[str, str]]:
    write_csv(rows(entries), path)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_whole_batch(tmp_path: Path) -> None:
    notes = [fact("noted", text="warm"), fact("noted", text="stirred twice")]
    path = tmp_path / "out.csv"
    (row,) = written([*poured(), *notes, live(cup=2), CLOSED], path)
    assert {key: value for key, value in row.items() if value} == {
        "batch": "1",
        "cup": "2",
        "opened_utc": "2024-05-01T08:00:00.000Z",
        "live_utc": "2024-05-01T08:02:40.000Z",
        "closed_utc": "2024-05-01T08:15:00.000Z",
        "resin_system": "invented resin",
        "resin_source": "invented for tests",
        "size_g": "60",
        "tare_g": "12.3",
        "resin_g": "44.1",
        "hardener_g": "15.9",
        "ratio_target": "36.000",
        "ratio_actual": "36.054",
        "ratio_deviation_pct": "0.15",  # 36.0544 / 36 = 1.001512
        "verdict": "in-band",
        "weights": "scale",
        "air_c": "21.5",
        "rh_pct": "55",
        "resin_lot": "R-17",
        "operator": "AB",
        "layup": "rudder skin",
        "plies": "1-2",
        "left_g": "9",
        "note": "warm | stirred twice",
        "outcome": "closed",
        "closed_how": "left",
        "bench": "simulated",
        "scale": "invented scale",
        "program": "0.1.0",
    }
    assert list(row)[: len(FIRST)] == FIRST
    assert tuple(row) == COLUMNS
    table = pd.read_csv(path)
    assert table.loc[0, "resin_g"] == 44.1
    assert table["hardener_lot"].isna().all()


def test_no_batch_at_all_is_a_header(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    write_csv(rows([]), path)
    assert path.read_text(encoding="utf-8") == ",".join(COLUMNS) + "\n"


def test_a_batch_given_up_exports_what_is_known(tmp_path: Path) -> None:
    begun = [opened(1), fact("tared", 1, tare_ug=12_300_000)]
    begun += [fact("accepted", 1, component=0, net_ug=44_100_000), fact("doubted", 1, why="a gap")]
    dropped = [*poured(2), fact("ended", 2, how="dropped", verdict="out-of-band", ratio_target=36)]
    one, two = written([*begun, *dropped], tmp_path / "out.csv")
    assert (one["outcome"], one["resin_g"], one["hardener_g"]) == ("open", "44.1", "")
    assert (one["cup"], one["live_utc"], one["unproven_because"]) == ("", "", "a gap")
    assert (two["outcome"], two["verdict"], two["hardener_g"]) == ("dropped", "out-of-band", "15.9")
    assert (two["ratio_target"], two["ratio_deviation_pct"]) == ("36.000", "")


def test_how_many_jugs_were_scanned_right(tmp_path: Path) -> None:
    def read(batch: int, *pairs: tuple[object, object]) -> list[Entry]:
        scans = [fact("jug", batch, component=own, called=asked) for own, asked in pairs]
        return [*poured(batch), *scans]

    batches = [read(1, (0, 0), (0, 1), (1, 1)), read(2, (0, 0), (0, 1)), read(3), read(4, (1, 1))]
    batches += [read(5, ("x", 0), (1, None), (0, 7))]
    rows_of = written([one for batch in batches for one in batch], tmp_path / "out.csv")
    assert [row["jugs"] for row in rows_of] == ["2 of 2", "1 of 2", "", "1 of 2", ""]


def blended(*names: str) -> Entry:
    parts = [{"name": "base", "role": "resin"}]
    parts += [{"name": name, "role": "hardener"} for name in names]
    return opened(recipe={"components": parts})


def test_blended_hardeners_are_summed_and_each_has_its_column(tmp_path: Path) -> None:
    facts = [blended("fast", "slow"), live(amounts_ug=[44_100_000, 100_000, 200_000])]
    (row,) = written([*facts, opened(2)][:2], tmp_path / "out.csv")
    assert (row["hardener_g"], row["fast_g"], row["slow_g"]) == ("0.3", "0.1", "0.2")
    assert tuple(row) == (*COLUMNS, "fast_g", "slow_g")
    first, second = written([*facts, *poured(2)], tmp_path / "out.csv")
    assert (first["fast_g"], second["fast_g"], second["hardener_g"]) == ("0.1", "", "15.9")


def test_an_additive_has_a_column_of_its_own_and_is_no_hardener(tmp_path: Path) -> None:
    parts = [("base", "resin"), ("pigment", "additive"), ("hardener", "hardener")]
    recipe = {"components": [{"name": name, "role": role} for name, role in parts]}
    facts = [opened(recipe=recipe), live(amounts_ug=[44_000_000, 2_000_000, 16_000_000])]
    (row,) = written(facts, tmp_path / "out.csv")
    assert (row["resin_g"], row["hardener_g"], row["pigment_g"]) == ("44", "16", "2")


def test_a_hardener_by_the_name_of_a_column_takes_its_own(tmp_path: Path) -> None:
    facts = [blended("resin", "slow", "slow"), live(amounts_ug=[9_000_000, 1_000_000, 2_000_000])]
    (row,) = written([*facts, fact("accepted", component=3, net_ug=4_000_000)], tmp_path / "o.csv")
    assert (row["resin_g"], row["hardener_g"]) == ("9", "7")
    assert (row["component 2: resin_g"], row["slow_g"], row["component 4: slow_g"]) == (
        "1",
        "2",
        "4",
    )


@given(st.integers(-(2**53) + 1, 2**53 - 1))
def test_grams_are_exact(mass_ug: int) -> None:
    (row,) = rows([opened(), live(amounts_ug=[mass_ug, 0])])
    assert Fraction(row["resin_g"]) == Fraction(mass_ug, 10**6)


@given(st.integers(-(10**10), 10**10))
def test_grams_are_written_in_plain_digits(mass_ug: int) -> None:
    from mixer.record.csv_file import _cell
    from mixer.record.export import _grams

    text = _cell(_grams(mass_ug))
    whole, _, decimals = text.partition(".")
    assert whole.lstrip("-").isdigit()
    assert not decimals.endswith("0")
    assert len(decimals) <= 6
    assert Fraction(text) == Fraction(mass_ug, 10**6)


@given(st.floats(0, allow_infinity=False), st.floats(0, allow_infinity=False))
def test_any_ratio_has_its_decimals(target: float, actual: float) -> None:
    (row,) = rows([opened(), live(ratio_target=target, ratio_actual=actual)])
    assert abs(Fraction(row["ratio_target"]) - Fraction(repr(target))) <= Fraction(1, 2000)
    if target:
        exact = 100 * (Fraction(repr(actual)) / Fraction(repr(target)) - 1)
        # To half of the last decimal, or to the 28 digits of the division where it is vast.
        error = abs(Fraction(row["ratio_deviation_pct"]) - exact)
        assert error <= max(Fraction(1, 200), abs(exact) / 10**20)
    else:
        assert row["ratio_deviation_pct"] is None


@pytest.mark.parametrize(
    ("target", "actual", "shown"),
    [(36, 36, "0.00"), (36, 35.99999, "0.00"), (36, 35.1, "-2.50"), (36, 36.9, "2.50")],
)
def test_deviation(target: float, actual: float, shown: str, tmp_path: Path) -> None:
    facts = [*poured(), live(ratio_target=target, ratio_actual=actual)]
    assert written(facts, tmp_path / "out.csv")[0]["ratio_deviation_pct"] == shown


FORMULAS = [
    *(
        "=1+1",
        "+1",
        "-1",
        "@SUM(A1)",
        "\t=1",
        "\rx",
        "\tx",
        " =1",
        "\n=1",
        "\u00a0=1",
        '"=1',
        "'=1",
    ),
    *(
        " ' =1",
        "“=1",
        "\u200b=1",
        "\ufeff=1",
        "＝1",
        "＋1",
        "－1",
        "＠x",
        "﹣1",
        "﹦1",
        "−1",
        " ＝1",
    ),
    *("\x00=1", "\u2028=1", "=cmd|' /C calc'!A0", "-", "="),
]


@pytest.mark.parametrize("text", FORMULAS)
def test_a_text_that_would_run_as_a_formula_is_made_harmless(text: str, tmp_path: Path) -> None:
    """Starts of a formula: OWASP, "CSV Injection" (= + - @, tab, carriage return, full width;
    from memory)."""
    (row,) = written([opened(operator=text), fact("noted", text=text)], tmp_path / "out.csv")
    for cell in (row["operator"], row["note"]):
        assert cell.startswith("'")
        assert cell.endswith(text[-1])


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_no_cell_starts_like_a_formula(text: str) -> None:
    safe = harmless(text)
    assert safe in (text, "'" + text)
    bare = text.lstrip()
    assert (safe == text) or not text[:1].isalnum()
    assert (safe != text) or bare[:1] not in {"=", "+", "-", "@"} or not bare


@pytest.mark.parametrize("text", ["R-17", "a=b", "1-2", "", "(=1)", "'quoted'", "ünder"])
def test_other_texts_are_left_alone(text: str) -> None:
    assert harmless(text) == text


def test_numbers_stay_numbers(tmp_path: Path) -> None:
    facts = [opened(air_c=-3.5, dew_point_c=-12), fact("closed", how="left", left_ug=-100_000)]
    (row,) = written(facts, tmp_path / "out.csv")
    assert (row["air_c"], row["dew_point_c"], row["left_g"]) == ("-3.5", "-12", "-0.1")
    table = pd.read_csv(tmp_path / "out.csv")
    assert table["air_c"].sum() == -3.5


def test_a_header_from_the_user_is_made_harmless_too(tmp_path: Path) -> None:
    (row,) = written([blended("=1+1", "slow"), live()], tmp_path / "out.csv")
    assert "'=1+1_g" in row


NASTY = 'one\r\ntwo\nthree\rfour\u2028five, "six"; \u202eseven\u202c \x00 eight'


def test_line_ends_become_blanks_and_the_rest_survives(tmp_path: Path) -> None:
    path = tmp_path / "out.csv"
    (row,) = written([opened(layup="Ä, \"b\" 'c'"), fact("noted", text=NASTY)], path)
    expected = 'one two three four five, "six"; \u202eseven\u202c   eight'
    assert row["note"] == expected
    assert row["layup"] == "Ä, \"b\" 'c'"
    assert len(path.read_bytes().splitlines()) == 2  # a batch is one line
    table = pd.read_csv(path, dtype=str)
    assert table.loc[0, "note"] == expected


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=20).filter(str.strip))
def test_both_readers_find_the_same_cells(tmp_path_factory: Any, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "both.csv"
    (row,) = written([opened(operator=text, layup=text + "x"), live()], path)
    table = pd.read_csv(path, dtype=str, keep_default_na=False)
    assert {key: table.loc[0, key] for key in row} == row


def test_through_the_journal(tmp_path: Path) -> None:
    with Journal.open(tmp_path / "record.db") as journal:
        journal.append([*poured(), live(), CLOSED])
        from_file = rows(journal.entries())
    assert from_file == rows([*poured(), live(), CLOSED])
    assert from_file[0]["resin_g"] == Decimal("44.1")


def refused(path: Path) -> str:
    with pytest.raises(RecordError) as error:
        write_csv(rows(poured()), path)
    assert str(path) in error.value.say
    assert error.value.say.endswith(".")
    return error.value.say


def test_many_batches_are_written_some_at_a_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = [opened(n, layup=f"rib {n}") for n in range(1, 6)]
    write_csv(rows(entries), tmp_path / "at once.csv")
    monkeypatch.setattr(csv_file, "_CHUNK", 2)
    write_csv(rows(entries), tmp_path / "out.csv")
    text = (tmp_path / "out.csv").read_text()
    assert text == (tmp_path / "at once.csv").read_text()
    assert [line.split(",")[0] for line in text.splitlines()] == ["batch", *"12345"]


def test_where_no_csv_can_be_written(tmp_path: Path) -> None:
    assert "that is not a file" in refused(tmp_path)
    assert "that is not a file" in refused(Path(os.devnull))
    assert "there is no folder" in refused(tmp_path / "none" / "out.csv")
    assert refused(tmp_path / ("x" * 300))
    assert list(tmp_path.iterdir()) == []
    assert not Path(os.devnull).is_file()


def test_the_record_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Journal.open(path) as journal:
        journal.append(poured())
        for name in ("record.db", "record.db-wal", "record.db-shm"):
            assert "is no export" in (said := refused(tmp_path / name)) or "a part of the" in said
        assert list(journal.entries()) == poured()


def test_an_old_csv_is_replaced_whole_or_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "out.csv"
    old = ",".join(COLUMNS) + "\n"
    path.write_text(old)

    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", no_room)
        assert "No space left on device" in refused(path)
    assert path.read_text() == old
    assert [p.name for p in tmp_path.iterdir()] == ["out.csv"]
    write_csv(rows(poured()), path)
    assert path.read_text().startswith("batch,")
    assert [p.name for p in tmp_path.iterdir()] == ["out.csv"]


@pytest.mark.parametrize("text", ['name = "sample"\n', "Dear Ann,\n", "batch,size\n1,2\n", "\0"])
def test_what_is_no_export_is_never_overwritten(tmp_path: Path, text: str) -> None:
    (tmp_path / "own").write_text(text)
    assert "is no export of a record" in refused(tmp_path / "own")
    assert (tmp_path / "own").read_text() == text


SAVED = '\ufeff"batch";"cup";"opened_utc"'


@pytest.mark.parametrize("start", ["", "batch,cup,opened_utc\n", SAVED])
def test_an_export_that_a_spreadsheet_saved_is_one(tmp_path: Path, start: str) -> None:
    (tmp_path / "out.csv").write_text(start, encoding="utf-8")
    write_csv(rows(poured()), tmp_path / "out.csv")
    assert (tmp_path / "out.csv").read_text(encoding="utf-8").startswith("batch,cup,")


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links on this system")
def test_a_link_keeps_pointing(tmp_path: Path) -> None:
    (tmp_path / "there.csv").touch()
    link = tmp_path / "link.csv"
    link.symlink_to(tmp_path / "there.csv")
    write_csv(rows(poured()), link)
    assert link.is_symlink()
    assert (tmp_path / "there.csv").read_text().startswith("batch,")


def test_pandas_is_loaded_by_an_export_alone() -> None:
    script = (
        "import sys; from mixer.record import journal, views, export; "
        "sys.exit('pandas' in sys.modules or 'numpy' in sys.modules)"
    )
    path = os.pathsep.join(p for p in sys.path if p)
    command = [sys.executable, "-c", script]
    assert subprocess.run(command, env={**os.environ, "PYTHONPATH": path}).returncode == 0
