"""What scripts rely on in the JSON lines of a real batch."""

from __future__ import annotations

import pytest
from support.command import Line, Mix

NUMBER, TEXT = (int, float), (str,)
KEYS: dict[str, tuple[type, ...]] = {
    "v": (int,), "t": NUMBER, "stage": TEXT, "held": (str, type(None)),
    "component": (str, type(None)), "net_g": (*NUMBER, type(None)),
    "total_g": (*NUMBER, type(None)), "target_g": (*NUMBER, type(None)),
    "low_g": (*NUMBER, type(None)), "high_g": (*NUMBER, type(None)), "cue": TEXT, "say": TEXT,
}  # fmt: skip
RESULT = {"batch", "cup", "ratio_target", "ratio_actual", "verdict"}
STAGES = ["cup", "pour", "stir", "live"]
# Only where there is something to tell.
TOLD = {"lasts", "live_cups"}
CUES = {
    "clear",
    "place",
    "pour",
    "ease",
    "trickle",
    "stop",
    "wait",
    "in-band",
    "over",
    "next",
    "stir",
    "go",
}


def assert_well_formed(lines: list[Line]) -> None:
    for line in lines:
        assert list(line)[: len(KEYS)] == list(KEYS)
        for key, types in KEYS.items():
            assert isinstance(line[key], types), (key, line[key])
            assert not isinstance(line[key], bool)
        assert line["v"] == 1
        assert line["cue"] in CUES
        assert line["say"]
    assert all(set(line) - TOLD == set(KEYS) for line in lines[:-1])
    assert set(lines[-1]) - TOLD == set(KEYS) | RESULT
    times = [line["t"] for line in lines]
    assert times == sorted(times)


def test_every_line_has_every_key_and_the_last_the_result(mix: Mix) -> None:
    def director(mix: Mix) -> None:
        mix.pour_in_band()
        mix.clock.skip(110)

    assert mix.run(director) == 0
    lines = mix.lines
    assert_well_formed(lines)
    assert list(dict.fromkeys(line["stage"] for line in lines)) == STAGES
    last = lines[-1]
    assert (last["stage"], last["batch"], last["cup"]) == ("live", 1, 1)
    assert (last["verdict"], last["ratio_target"]) == ("in-band", 36)
    assert last["ratio_actual"] == pytest.approx(100 * 13.2 / 36.8, rel=0.01)
    hardener = [line for line in lines if line["component"] == "hardener"]
    assert all(line["low_g"] < line["target_g"] < line["high_g"] for line in hardener)
    # The target follows from the resin that is really in the cup: 36 to 100 of 36.8 g.
    assert hardener[0]["target_g"] == pytest.approx(36.8 * 0.36, abs=0.05)


@pytest.mark.parametrize("readings_per_s", [3, 10])
def test_five_lines_a_second_while_the_weight_changes(mix: Mix, readings_per_s: int) -> None:
    """By the clock that the readings are stamped with; the scale may be slower than that."""

    def director(mix: Mix) -> None:
        mix.place_cup()
        mix.counter.pour(to_g=44)
        mix.say("drop")

    mix.counter.every_s = 1 / readings_per_s
    mix.run(director)
    moving = [line for line in mix.lines if 0 < (line["net_g"] or 0) < 32]
    seconds = moving[-1]["t"] - moving[0]["t"]
    assert seconds > 1
    assert len(moving) >= 5 * seconds, (len(moving), seconds)


@pytest.mark.parametrize(("port", "size", "status"), [("there", "0g", 2), ("gone", "50g", 3)])
def test_a_refusal_has_a_last_line_with_nothing_in_it(
    mix: Mix, port: str, size: str, status: int
) -> None:
    if port == "gone":
        mix.counter.path.unlink()
    assert mix.run(size=size) == status
    assert_well_formed(mix.lines)
    assert mix.last["stage"] == "ended"
    assert mix.last["say"] == mix.err.strip()
    assert all(mix.last[key] is None for key in RESULT)
