"""The simulated bench through the real command: ``mix --port sim:`` and the demo."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import pytest

from mixer.app.clock import Clock
from mixer.cli import main


def test_a_simulated_batch_is_live_in_band_recorded_closed_and_exported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """By the careful person, on a clock that runs faster for plant and program alike; so much that
    what a busy machine lets fall between two jugs does not matter."""
    monkeypatch.setattr("mixer.app.bench.shop.Clock", lambda: Clock(5))
    record, table = str(tmp_path / "record"), tmp_path / "batches.csv"
    status = main(
        ["mix", "--resin", "sample-36", "--size", "150g", "--port", "sim:", "--hands-free",
         "--stir", "1s", "--jsonl", "--record", record]
    )  # fmt: skip
    last = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert (status, last["stage"], last["verdict"]) == (0, "live", "in-band")
    assert last["ratio_actual"] == pytest.approx(36, rel=0.03)
    assert main(["close", "1", "--left", "9g", "--record", record]) == 0
    assert main(["close", "1", "--used-up", "--record", record]) == 2
    assert main(["record", "export", "--to", str(table), "--record", record]) == 0
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["verdict"] == "in-band"
    assert row["bench"] == "simulated"
    assert float(row["left_g"]) == 9


def test_the_fast_demo_leaves_record_and_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    done = subprocess.run(
        [sys.executable, "-m", "mixer", "demo", "--fast", "--out", str(tmp_path / "demo")],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "demo" / "demo.cupside").is_file()
    assert "simulated" in (tmp_path / "demo" / "batches.csv").read_text(encoding="utf-8")


def test_nobody_reading_the_output_is_no_stack_trace() -> None:
    command = f"{sys.executable} -m mixer resin list | true"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert done.stderr == ""


def test_a_demo_that_finds_no_end_is_dropped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As where a machine is too busy for its clock, and more was poured than can be put right."""
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setattr("mixer.commands.bench.DEMO_MOST_S", 50)
    assert main(["demo", "--fast", "--out", str(tmp_path / "demo")]) == 1
    told = capsys.readouterr()
    assert "too busy for this demo" in told.err
    assert "dropped" in (tmp_path / "demo" / "batches.csv").read_text(encoding="utf-8")
