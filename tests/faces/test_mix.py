"""The commands as a person and a script use them, in processes of their own."""

from __future__ import annotations

import csv
import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest


def cupside(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "mixer", *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )


def test_a_simulated_batch_is_live_in_band_recorded_closed_and_exported(tmp_path: Path) -> None:
    record, table = str(tmp_path / "record"), tmp_path / "batches.csv"
    done = cupside(
        "mix", "--resin", "sample-36", "--size", "50g", "--port", "sim:", "--hands-free",
        "--stir", "1s", "--jsonl", "--record", record,
    )  # fmt: skip
    last = json.loads(done.stdout.splitlines()[-1])
    assert (done.returncode, last["stage"], last["verdict"]) == (0, "live", "in-band"), done.stderr
    assert last["ratio_actual"] == pytest.approx(36, rel=0.03)
    assert cupside("close", "1", "--left", "9g", "--record", record).returncode == 0
    assert cupside("close", "1", "--used-up", "--record", record).returncode == 2
    assert cupside("record", "export", "--to", str(table), "--record", record).returncode == 0
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["verdict"] == "in-band"
    assert row["bench"] == "simulated"
    assert float(row["left_g"]) == 9


@pytest.mark.parametrize(
    ("resin", "size", "port", "status", "said"),
    [
        ("no-such", "60g", "sim:", 2, "no-such"),
        ("sample-36", "60 cm", "sim:", 2, "size"),
        ("sample-36", "0g", "sim:", 2, "size"),
        ("sample-36", "-5g", "sim:", 2, "size"),
        ("sample-36", "nan g", "sim:", 2, "size"),
        ("sample-36", "100kg", "sim:", 2, "scale"),
        ("sample-36", "60g", "/dev/no-such-port", 2, "confirm"),
    ],
)
def test_wrong_input_is_one_sentence(
    resin: str, size: str, port: str, status: int, said: str
) -> None:
    done = cupside("mix", "--resin", resin, f"--size={size}", "--port", port, "--text")
    assert done.returncode == status
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_port_is_status_3_once_the_resin_is_confirmed() -> None:
    wrong = cupside("resin", "confirm", "sample-36", "--ratio", "100:30", "--by", "weight")
    assert wrong.returncode == 2
    assert cupside(
        "resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight"
    ).returncode == 0  # fmt: skip
    done = cupside(
        "mix", "--resin", "sample-36", "--size", "60g", "--port", "/dev/no-such-port", "--text"
    )
    assert done.returncode == 3
    assert "no-such-port" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_fast_demo_leaves_record_and_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    done = cupside("demo", "--fast", "--out", str(tmp_path / "demo"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "demo" / "demo.cupside").is_file()
    assert "simulated" in (tmp_path / "demo" / "batches.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_a_pour_that_is_interrupted_stands_in_the_record_as_such(
    tmp_path: Path, sign: signal.Signals
) -> None:
    record, table = str(tmp_path / "record"), tmp_path / "batches.csv"
    command = [
        sys.executable, "-m", "mixer", "mix", "--resin", "sample-36", "--size", "50g", "--port",
        "sim:", "--jsonl", "--record", record,
    ]  # fmt: skip
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as mix:
        assert mix.stdout is not None
        assert mix.stderr is not None
        for line in mix.stdout:
            seen = json.loads(line)
            if seen["stage"] == "pour" and (seen["net_g"] or 0) > 1:
                mix.send_signal(sign)
                break
        rest = mix.stdout.read().splitlines()
        errors = mix.stderr.read()
    assert mix.returncode == 1
    assert "Traceback" not in errors
    assert json.loads(rest[-1])["stage"] == "ended"
    assert cupside("record", "export", "--to", str(table), "--record", record).returncode == 0
    with table.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["outcome"] == "interrupted"
    assert "interrupted" in row["note"]


def test_nobody_reading_the_output_is_no_stack_trace() -> None:
    command = f"{sys.executable} -m mixer resin list | true"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=False)
    assert done.stderr == ""
