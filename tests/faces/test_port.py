"""A port that cannot be opened: what is wrong, how to get it, status 3, nothing recorded."""

from __future__ import annotations

import grp
import os
import subprocess
import sys
from pathlib import Path

import pytest
import serial
from support.command import Mix, one_sentence, without_privileges


def assert_refused(mix: Mix, *said: str) -> None:
    assert mix.run() == 3
    assert one_sentence(mix.err)
    for words in said:
        assert words in mix.err
    assert not mix.record.exists()


def test_missing(mix: Mix) -> None:
    mix.counter.path.unlink()
    assert_refused(mix, f"There is no port {mix.counter.path}")


def test_a_file_that_is_no_port(mix: Mix) -> None:
    mix.counter.path.unlink()
    mix.counter.path.write_text("no port")
    assert_refused(mix, f"{mix.counter.path} is no serial port")


def test_busy(mix: Mix) -> None:
    with serial.Serial(str(mix.counter.path), exclusive=True):
        assert_refused(mix, "Another program is using the port", "close that first")


@pytest.mark.parametrize(("mode", "group_may"), [(0o000, False), (0o060, True)])
def test_not_permitted(mix: Mix, mode: int, group_may: bool) -> None:
    """The system's own refusal. A port that its group may open: that group is named."""
    port = os.path.realpath(mix.counter.path)
    if os.geteuid() == 0:
        os.chown(port, -1, next(g.gr_gid for g in grp.getgrall() if g.gr_gid != 0))
    group = grp.getgrgid(os.stat(port).st_gid).gr_name
    os.chmod(port, mode)
    command = [
        *without_privileges(), sys.executable, "-m", "mixer", "mix", "--resin", "sample-36",
        "--size", "50g", "--port", str(mix.counter.path), "--text", "--record", str(mix.record),
    ]  # fmt: skip
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={**os.environ, "LOGNAME": "ann"}
    )
    assert done.returncode == 3, done.stderr
    assert one_sentence(done.stderr)
    assert "You may not open the port" in done.stderr
    if group_may:
        assert f"sudo usermod -aG {group} ann" in done.stderr
        assert "log out and in again" in done.stderr
    else:
        assert "ask whoever looks after this computer" in done.stderr
    assert not mix.record.exists()


def test_a_simulated_bench_that_cannot_start(mix: Mix, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("devices.sim.process.sys.executable", str(mix.tmp / "no-python"))
    mix.counter.path = Path("sim:")
    assert_refused(mix, "There is no simulated bench")
