"""The clock: its laws, with the system's own clocks replaced by figures."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app import clock
from mixer.app.clock import Clock


@given(
    speed=st.floats(0.1, 1000),
    start_s=st.floats(0, 1e7),
    elapsed_s=st.floats(0, 1e5),
)
def test_age_is_start_plus_elapsed_times_speed(
    speed: float, start_s: float, elapsed_s: float
) -> None:
    now = [start_s]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(clock, "_age_s", lambda: now[0])
        made = Clock(speed)
        assert made.age_s() == start_s
        first = datetime.fromisoformat(made.utc())
        now[0] = start_s + elapsed_s
        assert made.age_s() == pytest.approx(start_s + elapsed_s * speed, abs=1e-3)
        if speed != 1:  # at real speed UTC is the system's own, corrections included
            passed_s = (datetime.fromisoformat(made.utc()) - first).total_seconds()
            assert passed_s == pytest.approx(elapsed_s * speed, abs=2e-3)


def test_utc_has_milliseconds_and_z() -> None:
    text = Clock().utc()
    assert len(text) == len("2024-05-01T08:00:00.000Z")
    assert text.endswith("Z")
    assert abs((datetime.fromisoformat(text) - datetime.now(UTC)).total_seconds()) < 60


def test_only_another_speed_marks_the_boot(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_boot", lambda: "b1")
    assert Clock().boot == "b1"
    assert Clock(20).boot.startswith("simulated-b1-")
    monkeypatch.setattr(clock, "_age_s", iter([1.0, 2.0, 3.0]).__next__)
    assert Clock(20).boot != Clock(20).boot  # the first one's figures are no times of the next
    assert Clock(20).speed == 20


def test_without_a_boot_id_two_runs_are_never_taken_for_one_boot(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def missing(*_: object, **__: object) -> str:
        raise FileNotFoundError

    monkeypatch.setattr(clock.Path, "read_text", missing)
    assert Clock().boot.startswith("unknown-")
    assert Clock().boot != Clock().boot


def test_without_boottime_the_age_is_monotonic(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock, "_BOOTTIME", None)
    monkeypatch.setattr(clock.time, "monotonic", lambda: 7.5)
    assert Clock().age_s() == 7.5


@pytest.mark.parametrize("speed", [0, -1, float("nan"), float("inf")])
def test_a_speed_that_is_none_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        Clock(speed)
