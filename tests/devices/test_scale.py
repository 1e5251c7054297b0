"""A live scale, on real pseudo-terminals where bytes are in play.

What depends on time alone is tried with a clock that is data.
"""

from __future__ import annotations

import queue
import sys
import threading
import time
from collections.abc import Callable, Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.peers import PtyPeer, TcpPeer, plain_scale, teller, wait_until, weigh

from devices.dialects.sma import Sma
from devices.link import LineSettings, Link, LinkError, open_link
from devices.readings import About, Fault, FaultKind, Reading, Said
from devices.scale import FRESH_S, LOST_S, Health, Scale, health

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are POSIX", allow_module_level=True)

Start = Callable[..., "queue.Queue[Said]"]
FAST = 20.0


@pytest.fixture
def peers() -> Iterator[list[PtyPeer | TcpPeer]]:
    made: list[PtyPeer | TcpPeer] = []
    yield made
    for peer in made:
        peer.unplug()


@pytest.fixture
def start() -> Iterator[Start]:
    """Start a scale on a port whose name may change; gives what it says."""
    scales: list[Scale] = []

    def start_(
        where: Callable[[], str], dialect: Sma | None = None, speed: float = 1.0, **more: float
    ) -> queue.Queue[Said]:
        said: queue.Queue[Said] = queue.Queue()
        scales.append(
            Scale(
                open_link=lambda: open_link(where(), LineSettings()),
                dialect=dialect or Sma(),
                clock=lambda: time.monotonic() * speed,
                deliver=said.put,
                speed=speed,
                **more,
            )
        )
        return said

    yield start_
    for scale in scales:
        scale.close()
        assert not scale._thread.is_alive()


def next_of(said: queue.Queue[Said], kind: type[Said]) -> Said:
    while True:
        one = said.get(timeout=10.0)
        if isinstance(one, kind):
            return one


def test_a_scale_tells_of_itself_then_weighs(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    peer = PtyPeer(teller())
    peers.append(peer)
    before_s = time.monotonic()
    said = start(lambda: peer.path)
    about = said.get(timeout=10.0)
    assert isinstance(about, About)
    assert (about.capacity_ug, about.divisions_ug) == (500_000_000, (("g", 100_000),))
    readings = [said.get(timeout=10.0) for _ in range(3)]
    times = [one.at_s for one in (about, *readings)]
    assert all(isinstance(one, Reading) and one.mass_ug == 56_100_000 for one in readings)
    assert times == sorted(times)
    assert before_s < times[0] < times[-1] < time.monotonic()
    assert peer.heard[:7] == [b"\nI\r"] + [b"\nN\r"] * 4 + [b"\nW\r"] * 2


def test_a_plain_scale_refuses_to_tell_and_weighs_all_the_same(
    start: Start, peers: list[PtyPeer | TcpPeer]
) -> None:
    peer = PtyPeer(plain_scale)
    peers.append(peer)
    said = start(lambda: peer.path)
    assert isinstance(said.get(timeout=10.0), About)
    assert isinstance(said.get(timeout=10.0), Reading)


def test_over_the_network(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    peer = TcpPeer()
    peers.append(peer)
    assert isinstance(next_of(start(lambda: peer.url), Reading), Reading)


def test_a_frame_that_comes_byte_by_byte_is_stamped_when_it_ends(
    start: Start, peers: list[PtyPeer | TcpPeer]
) -> None:
    ended: list[float] = []

    def answer(command: bytes) -> bytes:
        return weigh() if command == b"\nW\r" else b""

    peer = PtyPeer(answer, bytewise_s=0.002)
    peers.append(peer)
    peer.said = lambda: ended.append(time.monotonic())
    reading = next_of(start(lambda: peer.path), Reading)
    assert wait_until(lambda: bool(ended))
    # the peer notes the time just after its last byte: 17 bytes of 2 ms lie before
    assert reading.at_s > ended[0] - 17 * 0.002


def test_a_scale_that_repeats_is_asked_once(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    stop = threading.Event()

    def answer(command: bytes) -> bytes:
        if command == b"\nR\r":
            threading.Thread(target=repeat, daemon=True).start()
            return b""
        return b"\n?\r"

    def repeat() -> None:
        while not stop.wait(0.01):
            peer.say(weigh())

    peer = PtyPeer(answer)
    peers.append(peer)
    said = start(lambda: peer.path, Sma("R"))
    for _ in range(20):
        next_of(said, Reading)
    assert peer.heard.count(b"\nR\r") == 1
    stop.set()
    time.sleep(0.02)


def test_the_pace_is_kept(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    peer = PtyPeer()
    peers.append(peer)
    said = start(lambda: peer.path, pace_s=0.05)
    times = [next_of(said, Reading).at_s for _ in range(6)]
    # a late wake-up shortens one step at most by as much as it lengthened the one before
    assert times[-1] - times[0] > 5 * 0.05 - 0.045


def test_a_fast_clock_is_served_as_fast(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    peer = PtyPeer()
    peers.append(peer)
    before = time.monotonic()
    said = start(lambda: peer.path, speed=FAST)
    times = [next_of(said, Reading).at_s for _ in range(50)]
    assert times[-1] - times[0] > 49 * 0.05 - 1.0  # on its own clock...
    assert time.monotonic() - before < 50 * 0.05  # ...in less real time than that


def test_silence_is_asked_again_and_nothing_is_made_up(
    start: Start, peers: list[PtyPeer | TcpPeer]
) -> None:
    silent = [True]
    peer = PtyPeer(lambda command: b"" if silent[0] else plain_scale(command))
    peers.append(peer)
    said = start(lambda: peer.path, speed=FAST)
    assert wait_until(lambda: peer.heard.count(b"\nW\r") >= 3)
    assert said.empty()
    silent[0] = False
    assert isinstance(said.get(timeout=10.0), Reading)


def test_nonsense_is_told_and_outlived(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    answers = [b"\n 1G  garbage\r", b"\x80" * 300, b"\n 1G        5"]
    peer = PtyPeer(
        lambda command: (
            plain_scale(command) if command != b"\nW\r" or not answers else answers.pop(0)
        )
    )
    peers.append(peer)
    said = start(lambda: peer.path, speed=FAST)
    faults = 0
    while not isinstance(one := said.get(timeout=10.0), Reading):
        faults += isinstance(one, Fault) and one.kind is FaultKind.NONSENSE
        assert one.at_s > 0
    assert faults >= 3


def test_a_command_that_is_not_known_is_not_repeated_in_haste(
    start: Start, peers: list[PtyPeer | TcpPeer]
) -> None:
    peer = PtyPeer(lambda command: b"\n?\r")
    peers.append(peer)
    said = start(lambda: peer.path, Sma("W"))
    first, second = next_of(said, Fault), next_of(said, Fault)
    assert isinstance(first, Fault)
    assert first.kind is FaultKind.REFUSED
    assert second.at_s - first.at_s > 0.3


def test_a_pulled_cable_is_one_fault_and_another_port_may_take_over(
    start: Start, peers: list[PtyPeer | TcpPeer]
) -> None:
    first = PtyPeer()
    peers.append(first)
    path = [first.path]
    said = start(lambda: path[0], speed=FAST)
    next_of(said, Reading)
    path[0] = "/dev/not-a-port"  # while it is unplugged there is none
    first.unplug()
    gone = next_of(said, Fault)
    assert isinstance(gone, Fault)
    assert gone.kind is FaultKind.LINK
    time.sleep(0.3)  # six seconds on its clock: several attempts
    assert said.empty()
    second = PtyPeer(lambda command: plain_scale(command).replace(b"56.1", b"71.9"))
    peers.append(second)
    path[0] = second.path
    back = next_of(said, Reading)
    assert isinstance(back, Reading)
    assert back.mass_ug == 71_900_000
    assert back.at_s > gone.at_s
    second.unplug()
    again = next_of(said, Fault)
    assert isinstance(again, Fault)
    assert again.kind is FaultKind.LINK


def test_a_port_that_was_never_there_is_one_fault_with_its_sentence(start: Start) -> None:
    said = start(lambda: "/dev/not-a-port", speed=FAST)
    fault = said.get(timeout=10.0)
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.text) == (FaultKind.LINK, "missing")
    assert "/dev/not-a-port" in fault.say
    time.sleep(0.2)
    assert said.empty()


def test_close_is_prompt_and_frees_the_port(peers: list[PtyPeer | TcpPeer]) -> None:
    peer = PtyPeer(lambda _command: b"")
    peers.append(peer)
    said: list[Said] = []
    scale = Scale(
        lambda: open_link(peer.path, LineSettings()), Sma("P"), time.monotonic, said.append
    )
    assert wait_until(lambda: bool(peer.heard))
    before = time.monotonic()
    scale.close()
    assert time.monotonic() - before < 2.0  # its patience was longer, and no thread is left
    assert not scale._thread.is_alive()
    assert said == []  # to be closed is no fault
    open_link(peer.path, LineSettings()).close()


def test_close_from_its_own_thread(peers: list[PtyPeer | TcpPeer]) -> None:
    peer = PtyPeer()
    peers.append(peer)
    made: queue.Queue[Scale] = queue.Queue()
    scale = Scale(
        lambda: open_link(peer.path, LineSettings()),
        Sma(),
        time.monotonic,
        lambda _said: made.get(timeout=5.0).close(),
    )
    made.put(scale)
    scale._thread.join(10.0)
    assert not scale._thread.is_alive()


def test_close_while_there_is_no_port() -> None:
    def none_there() -> Link:
        raise LinkError("missing", "There is no port.")

    scale = Scale(none_there, Sma(), lambda: 0.0, lambda _said: None, speed=1e-3)
    scale.close()
    assert not scale._thread.is_alive()


def test_waiting_burns_no_time(start: Start, peers: list[PtyPeer | TcpPeer]) -> None:
    """The processor's time, not the wall's: a busy wait would take all of it."""
    peer = PtyPeer(lambda _command: b"")
    peers.append(peer)
    start(lambda: peer.path, Sma("P"))
    assert wait_until(lambda: bool(peer.heard))
    cpu, wall = time.process_time(), time.monotonic()
    time.sleep(0.5)
    assert time.process_time() - cpu < 0.3 * (time.monotonic() - wall)


ages = st.floats(0, 1000)


@given(st.floats(0, 1e6), ages)
def test_health_by_age(last_at_s: float, age_s: float) -> None:
    now_s = last_at_s + age_s
    age_s = now_s - last_at_s  # as a float has it
    expected = Health.FRESH if age_s < FRESH_S else Health.LOST if age_s > LOST_S else Health.STALE
    assert health(last_at_s, now_s) is expected
    assert health(last_at_s, now_s, link_failed=True) is Health.LOST


def test_health_before_the_first_reading() -> None:
    assert health(None, 0.0) is Health.LOST
