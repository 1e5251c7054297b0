"""The simulated scale's answers, read back by the host's side of the protocol.

Source of the frames: SMA SCP-0499, levels 1 and 2.
"""

import pytest

from devices.dialects.sma import Sma
from devices.readings import About, Fault, FaultKind, Reading
from devices.sim.indicator import ScaleSettings
from devices.sim.plant import Plant
from devices.sim.scale import SmaScale


class Bench:
    def __init__(self, **given):
        self.plant = Plant(scale=ScaleSettings(**{"repeatability_g": 0.0, **given}))
        self.scale = SmaScale(self.plant)
        self.plant.act({"do": "cup", "mass_g": 12.0})
        self.plant.step(3.0)

    def ask(self, command: str) -> bytes:
        return self.scale.answer(b"\n" + command.encode() + b"\r")

    def step(self, dt_s: float) -> bytes:
        return self.scale.due(self.plant.step(dt_s))


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_w_gives_the_displayed_weight_column_by_column(bench):
    assert bench.ask("W") == b"\n 1G        12.0g  \r"
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 50})
    bench.step(0.3)
    assert bench.ask("W")[4:5] == b"M"


@pytest.mark.parametrize("tells_range", [True, False])
def test_a_scale_of_two_ranges_tells_both_and_which_one_it_is_in(tells_range):
    bench = Bench(fine_to_g=50.0, coarse_g=0.5, tells_range=tells_range)
    assert bench.ask("W") == b"\n 1G        12.0g  \r"
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 48.2})
    bench.step(3)
    frame = bench.ask("W")
    assert frame == b"\n%dG        60.0g  \r".replace(b"%d", b" 2" if tells_range else b" 1")
    (reading,) = Sma().feed(frame)
    assert isinstance(reading, Reading)
    assert (reading.weighing_range, reading.division_ug) == (1 + tells_range, 100_000)
    host = Sma()
    said, ask = [], host.ask_about()
    while ask:
        said += host.feed(bench.scale.answer(ask))
        ask = host.follow_up()
    (about,) = said
    assert (about.capacity_ug, about.divisions_ug) == (2_000_000_000, (("g", 500_000),))


def test_a_command_may_come_in_pieces(bench):
    assert bench.scale.answer(b"\n") == b""
    assert bench.scale.answer(b"W") == b""
    assert bench.scale.answer(b"\r\nW\r") == 2 * b"\n 1G        12.0g  \r"


def test_t_c_and_z(bench):
    assert bench.ask("T") == b"\n 1NM        0.0g  \r"
    assert bench.ask("C") == b"\n 1GM       12.0g  \r"
    assert bench.ask("T2.5g") == b"\n 1NM        9.5g  \r"
    assert bench.ask("Z") == b"\nZ1GM        0.0g  \r"
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 50})
    bench.step(3)
    assert bench.ask("Z") == b"\nE1G  ----------g  \r"  # 50 g is too far from the first zero
    assert bench.ask("T9999g")[1:2] == b"T"
    assert bench.ask("W") == b"\n 1G        50.0g  \r"


def test_p_waits_until_the_figure_is_still(bench):
    assert bench.ask("P") == b"\n 1G        12.0g  \r"
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 50})
    bench.step(0.3)
    assert bench.ask("P") == b""
    assert bench.step(0.4) == b""
    assert bench.step(3.0) == b"\n 1G        62.0g  \r"
    assert bench.step(3.0) == b""  # once, not over and over


@pytest.mark.parametrize("stop", [b"\x1b", b"\nW\r", b"\nX\r"])
def test_r_repeats_at_the_scales_own_rate_until_another_command(bench, stop):
    frame = b"\n 1G        12.0g  \r"
    assert bench.ask("R") == frame
    assert bench.step(1.0) == 10 * frame
    bench.scale.answer(stop)
    assert bench.step(1.0) == b""


def test_i_and_n_tell_capacity_and_division():
    bench, host = Bench(division_g=0.01, capacity_g=500), Sma()
    sent, said = host.ask_about(), []
    while sent:
        said += host.feed(bench.scale.answer(sent))
        sent = host.follow_up()
    (about,) = said
    assert isinstance(about, About)
    assert (about.capacity_ug, about.divisions_ug) == (500_000_000, (("g", 10_000),))
    assert bench.ask("N") == b"\n?\r"


def test_a_and_b_tell_who_it_is(bench):
    lines = [bench.ask("A")]
    while not lines[-1].startswith(b"\nEND:"):
        lines.append(bench.ask("B"))
    assert lines[0] == b"\nSMA:2/1.0\r"
    assert len(lines) == 4


def test_what_it_does_not_know_and_what_came_damaged(bench):
    assert bench.ask("Q") == b"\n?\r"
    assert bench.ask("W1") == b"\n?\r"
    assert bench.ask("T?") == b"\n!\r"
    assert bench.scale.answer(b"\n\xffW\r") == b"\n!\r"
    assert bench.ask("D") == b"\n    \r"
    assert bench.scale.answer(b"\x1b") == b""


def test_overload_and_underload_carry_their_status(bench):
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 2500})
    bench.step(3)
    assert Sma().feed(bench.ask("W"))[0].kind is FaultKind.OVERLOAD
    bench.plant.act({"do": "remove", "mass_g": 2500})
    bench.step(3)
    assert isinstance(Sma().feed(bench.ask("W"))[0], Reading)
    bench.plant.act({"do": "fail", "how": "overload", "for_s": 1})
    assert Sma().feed(bench.ask("W"))[0].kind is FaultKind.OVERLOAD
    bench.plant.act({"do": "fail", "how": "restart", "for_s": 1})
    bench.step(2)
    bench.plant.act({"do": "add", "jug": "resin", "mass_g": 300})
    bench.step(2)
    bench.plant.act({"do": "fail", "how": "restart", "for_s": 1})
    bench.step(2)
    bench.plant.act({"do": "lift"})
    bench.step(2)
    assert Sma().feed(bench.ask("W"))[0].kind is FaultKind.UNDERLOAD


def test_the_unit_key_changes_the_unit_sent(bench):
    bench.plant.act({"do": "press", "key": "unit"})
    reading = Sma().feed(bench.ask("W"))[0]
    assert isinstance(reading, Reading)
    # Source: the avoirdupois ounce, 28.349523125 g; 12 g is 0.4233 oz, shown to 0.005.
    assert (reading.text, reading.unit) == ("0.425 oz", "oz")


@pytest.mark.parametrize("how", ["silent", "restart"])
def test_a_silent_scale_says_nothing_and_forgets_that_it_repeated(bench, how):
    bench.ask("R")
    bench.plant.act({"do": "fail", "how": how, "for_s": 1.0})
    assert bench.step(0.9) == b""
    assert bench.ask("W") == b""
    assert bench.step(2.0) == b""
    figure = "0.0" if how == "restart" else "12.0"
    assert bench.ask("W").split()[-1] == f"{figure}g".encode()


def test_nonsense_is_nonsense_to_the_host(bench):
    bench.plant.act({"do": "fail", "how": "nonsense", "for_s": 1.0})
    said = Sma().feed(bench.ask("W"))
    assert said
    assert all(isinstance(s, Fault) and s.kind is FaultKind.NONSENSE for s in said)
    bench.ask("R")
    bench.plant.act({"do": "fail", "how": "nonsense", "for_s": 1.0})
    bench.step(2)
    assert isinstance(Sma().feed(bench.ask("W"))[0], Reading)


@pytest.mark.parametrize("division_g", [0.01, 0.1, 1.0])
def test_the_host_reads_what_the_display_shows(division_g):
    bench = Bench(division_g=division_g, repeatability_g=None)
    bench.plant.act({"do": "pour", "jug": "resin", "rate_g_s": 3.0})
    for _ in range(40):
        bench.step(0.1)
        (reading,) = Sma().feed(bench.ask("W"))
        display = bench.plant.display
        assert reading.mass_ug == round(display.value * 1e6)
        assert reading.division_ug == round(division_g * 1e6)
        assert reading.still == display.still
