"""The commands: wrong input is one sentence on standard error and status 2."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from mixer.cli import main
from mixer.record.journal import Journal

WRONG = [
    ["bogus"],
    ["resin"],
    ["resin", "show", "no-such-resin"],
    ["resin", "confirm", "sample-36", "--ratio", "100:36"],
    ["mix", "--size", "60g", "--port", "sim:"],
    ["close", "one", "--used-up"],
    ["close", "1"],
    ["close", "1", "--left", "", "--record", "none.cupside"],
    ["close", "1", "--left", "9 cm", "--record", "none.cupside"],
    ["close", "1", "--discard", "--record", "none.cupside"],
    ["record"],
    ["record", "export", "--to", "x.csv", "--record", "none.cupside"],
    ["record", "show", "one", "--record", "none.cupside"],
    ["record", "correct", "1", "--field", "layup", "--record", "none.cupside"],
    ["record", "add", "--resin", "sample-36", "--record", "none.cupside"],
    ["record", "backup", "--record", "none.cupside"],
]


@pytest.mark.parametrize("argv", WRONG, ids=" ".join)
def test_wrong_input_is_one_sentence_and_status_2(
    argv: list[str],
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    try:
        status: object = main(argv)
    except SystemExit as left:
        status = left.code
    told = capsys.readouterr()
    assert status == 2
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 1
    assert "Traceback" not in told.err
    assert not list(tmp_path.iterdir())


def test_a_number_that_is_none_is_told_with_what_is_accepted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(["close", "one", "--used-up"])
    assert "'one' was read; give a number, such as 3" in capsys.readouterr().err


def test_show_gives_the_promised_keys(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["resin", "show", "sample-36", "--json"]) == 0
    view = json.loads(capsys.readouterr().out)
    assert {"name", "source", "confirmed", "components"} <= view.keys()
    assert all({"name", "parts"} <= part.keys() for part in view["components"])


def test_list_names_every_resin_that_show_knows(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["resin", "list", "--json"]) == 0
    listed = [view["name"] for view in json.loads(capsys.readouterr().out)]
    assert len(listed) >= 3
    assert all(main(["resin", "show", name]) == 0 for name in listed)


def test_a_wrong_profile_does_not_hide_the_others(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path))
    mine = tmp_path / "resins" / "mine.toml"
    mine.parent.mkdir()
    mine.write_text("source = 3\n")
    assert main(["resin", "list"]) == 2
    told = capsys.readouterr()
    assert "sample-36" in told.out
    assert len(told.err.splitlines()) == 1
    assert str(mine) in told.err


def test_an_empty_mass_is_never_taken_for_a_discarded_cup(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[tuple[str, str | None]] = []

    def close_cup(journal: Journal, cup: int, how: str, left: str | None) -> str:
        asked.append((how, left))
        return "Closed."

    monkeypatch.setattr("mixer.app.book.paperwork.close_cup", close_cup)
    record = str(tmp_path / "record")
    Journal.open(record).close()
    main(["close", "1", "--left", "", "--record", record])
    main(["close", "1", "--discard", "--record", record])
    assert asked == [("left", ""), ("discard", None)]


def test_a_size_below_zero_is_a_wrong_value_and_no_option(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    words = ["mix", "--resin", "sample-36", "--size", "-5g", "--port", "sim:", "--jsonl"]
    assert main([*words, "--record", str(tmp_path / "record")]) == 2
    assert "size: '-5g' is not within 0 to 1000 kg; give a mass such as" in capsys.readouterr().err
