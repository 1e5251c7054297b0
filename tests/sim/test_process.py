"""The bench as a process: a real port, opened by pyserial like any other."""

import json
import os
import signal
import subprocess
import sys
import threading
import time

import pytest
import serial

from devices.dialects.sma import Sma
from devices.readings import Reading
from devices.sim.plant import Plant
from devices.sim.process import SimulatedBench
from devices.sim.serve import answer
from devices.sim.stream import Jug

LINES = [
    pytest.param(
        False, marks=pytest.mark.skipif(not hasattr(os, "openpty"), reason="no pseudo-terminals")
    ),
    True,
]


def ask(port: serial.SerialBase, command: bytes = b"\nW\r") -> Reading:
    port.write(command)
    (said,) = Sma().feed(port.read_until(b"\r"))
    assert isinstance(said, Reading), said
    return said


def still(port: serial.SerialBase) -> Reading:
    return ask(port, b"\nP\r")


def settled(port: serial.SerialBase, mass_g: float) -> Reading:
    """The reading once it has come to this mass; fails after five real seconds."""
    until = time.monotonic() + 60
    while (reading := ask(port)).mass_ug != round(mass_g * 1e6) or not reading.still:
        assert time.monotonic() < until, reading
    return reading


@pytest.mark.parametrize("tcp", LINES)
def test_a_pour_through_a_real_port(tcp):
    jugs = [Jug("resin", drip_g=0.6, drip_s=8.0), {"name": "hardener"}]
    with SimulatedBench(speed=50, tcp=tcp, repeatability_g=0.0, jugs=jugs) as bench:
        bench.act({"do": "cup", "mass_g": 12.0})
        with serial.serial_for_url(bench.url, 9600, timeout=2) as port:
            settled(port, 12.0)
            bench.act({"do": "pour", "jug": "resin", "rate_g_s": 8.0})
            while ask(port).mass_ug < 30e6:
                pass
            bench.act({"do": "pour", "jug": "resin", "rate_g_s": 0})
            time.sleep(0.3)  # 15 s of the bench: all drips are down
            truth = bench.truth()
            shown_g = still(port).mass_ug / 1e6
        assert truth["in_air_g"] == 0.0
        assert shown_g == pytest.approx(12.0 + truth["truth"]["resin"], abs=0.0501)
        assert truth["truth"]["hardener"] == 0.0


@pytest.mark.parametrize("tcp", LINES)
def test_the_host_may_close_and_open_again(tcp):
    with SimulatedBench(speed=50, tcp=tcp, repeatability_g=0.0) as bench:
        for _ in range(3):
            with serial.serial_for_url(bench.url, 9600, timeout=2) as port:
                port.write(b"\nR\r")
                assert len(port.read(60)) == 60
                port.write(b"\x1b")
        with serial.serial_for_url(bench.url, 9600, timeout=2) as port:
            port.write(b"\nR\r")  # and go away while it goes on talking
            port.read(20)
        time.sleep(0.1)
        bench.act({"do": "cup", "mass_g": 12.0})
        with serial.serial_for_url(bench.url, 9600, timeout=2) as port:
            port.write(b"\x1b")
            time.sleep(0.1)
            port.reset_input_buffer()
            settled(port, 12.0)


@pytest.mark.parametrize("tcp", LINES)
def test_a_host_that_does_not_read_holds_nobody_up(tcp):
    with (
        SimulatedBench(speed=500, readings_per_s=20, tcp=tcp) as bench,
        serial.serial_for_url(bench.url, 9600, timeout=2) as port,
    ):
        port.write(b"\nR\r")
        time.sleep(0.3)  # thousands of frames, far more than a line holds
        bench.act({"do": "cup", "mass_g": 12.0})
        assert bench.truth()["cup_g"] == 12.0


def test_it_keeps_the_time_it_was_asked_to_keep():
    with SimulatedBench(speed=50) as bench:
        before_first = time.monotonic()
        first_s = bench.truth()["t_s"]
        after_first = time.monotonic()
        time.sleep(0.3)
        before_last = time.monotonic()
        last_s = bench.truth()["t_s"]
        after_last = time.monotonic()
    # However long asking takes, the bench's time lies between the two; it may have
    # looked at its clock a little before it took the question, and stands still where it was
    # not let run for long.
    passed_s = (last_s - first_s) / 50
    assert (before_last - after_first) / 2 <= passed_s <= after_last - before_first + 0.05


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no process can be stopped here")
def test_no_jug_pours_on_while_the_bench_is_not_let_run():
    with SimulatedBench(speed=50, jugs=[Jug("resin", opening_s=0.0)]) as bench:
        bench.act({"do": "cup", "mass_g": 12.0})
        bench.act({"do": "pour", "jug": "resin", "rate_g_s": 1.0})
        bench._process.send_signal(signal.SIGSTOP)
        threading.Timer(1.0, bench._process.send_signal, [signal.SIGCONT]).start()
        bench.act({"do": "pour", "jug": "resin", "rate_g_s": 0})  # heard once it runs again
        assert bench.truth()["truth"]["resin"] < 25  # 50 in that second


def test_a_failing_scale_falls_silent_and_wakes_with_the_cup_for_zero():
    with SimulatedBench(speed=50, repeatability_g=0.0) as bench:
        bench.act({"do": "cup", "mass_g": 12.0})
        with serial.serial_for_url(bench.url, 9600, timeout=0.05) as port:
            settled(port, 12.0)
            bench.act({"do": "fail", "how": "restart", "for_s": 20})
            port.write(b"\nW\r")
            assert port.read_until(b"\r") == b""
            time.sleep(0.5)
            port.timeout = 2
            settled(port, 0.0)


def test_wrong_actions_come_back_as_sentences_and_it_goes_on():
    with SimulatedBench() as bench:
        with pytest.raises(ValueError, match="no cup on the pan"):
            bench.act({"do": "lift"})
        with pytest.raises(ValueError, match="must be a number"):
            bench.act({"do": "cup", "mass_g": float("nan")})
        bench.act({"do": "cup", "mass_g": 12})
        assert bench.truth()["cup_g"] == 12
    bench.close()
    with pytest.raises(ConnectionError, match="has ended"):
        bench.truth()


def test_many_threads_may_lend_a_hand():
    with SimulatedBench(jugs=[{"name": "resin"}]) as bench:
        bench.act({"do": "cup", "mass_g": 12})

        def add() -> None:
            for _ in range(25):
                bench.act({"do": "add", "jug": "resin", "mass_g": 0.5})

        threads = [threading.Thread(target=add) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert bench.truth()["truth"] == {"resin": pytest.approx(50)}


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        ({"division_g": 0}, "division_g is 0.0"),
        ({"speed": 0}, "speed is 0"),
        ({"jugs": [{"name": "a", "colour": "red"}]}, "no 'colour'"),
    ],
)
def test_a_wrong_setting_is_a_sentence(settings, says):
    with pytest.raises(ValueError, match=says) as error:
        SimulatedBench(**settings)
    assert "Traceback" not in str(error.value)


def test_it_ends_when_its_input_closes_and_answers_rubbish_meanwhile():
    command = [sys.executable, "-m", "devices.sim", "--tcp"]
    done = subprocess.run(
        command, input='rubbish\n\n{"do": "truth"}\n', capture_output=True, text=True, timeout=20
    )
    first, error, truth = (json.loads(line) for line in done.stdout.splitlines())
    assert first["url"].startswith("socket://127.0.0.1:")
    assert "no JSON object: rubbish" in error["error"]
    assert truth["truth"] == {"resin": 0.0, "hardener": 0.0}
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("line", ["", "[]", "3", "null", '{"do": "cup"', '"lift"'])
def test_a_line_that_is_no_object_is_an_error(line):
    assert "no JSON object" in str(answer(Plant(), line)["error"])
