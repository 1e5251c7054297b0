"""Links over real pseudo-terminals and a real TCP server, through real pyserial."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import serial
import serial.rfc2217
from support.peers import PtyPeer, TcpPeer, weigh

from devices.link import LineSettings, Link, LinkError, open_link

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are POSIX", allow_module_level=True)

LINE = LineSettings()


@pytest.fixture
def peer() -> Iterator[PtyPeer]:
    peer = PtyPeer()
    yield peer
    peer.unplug()


def read_frame(link: Link) -> bytes:
    got = b""
    while not got.endswith(b"\r"):
        more = link.read(2.0)
        assert more, f"silence after {got!r}"
        got += more
    return got


def refusal(url: str, settings: LineSettings = LINE) -> LinkError:
    with pytest.raises(LinkError) as caught:
        open_link(url, settings)
    say = caught.value.say
    assert say[-1] in ".?"
    assert "\n" not in say
    assert "Errno" not in say
    return caught.value


def test_ask_and_answer_over_a_pseudo_terminal(peer: PtyPeer) -> None:
    link = open_link(peer.path, LINE)
    link.write(b"\nW\r")
    assert read_frame(link) == weigh()
    link.close()


def test_ask_and_answer_over_a_network() -> None:
    peer = TcpPeer()
    link = open_link(peer.url, LINE)
    link.write(b"\nW\r")
    assert read_frame(link) == weigh()
    peer.unplug()
    with pytest.raises(LinkError) as caught:
        link.read(2.0)
    assert caught.value.kind == "lost"
    link.close()


def test_ask_and_answer_through_an_rfc_2217_server() -> None:
    """The server's side is pyserial's own PortManager, before a port that echoes."""
    server = socket.create_server(("127.0.0.1", 0))

    def serve() -> None:
        connection, _ = server.accept()
        with connection:
            port = serial.serial_for_url("loop://", timeout=0)
            manager = serial.rfc2217.PortManager(port, SimpleNamespace(write=connection.sendall))
            connection.settimeout(0.01)
            data: bytes | None = None
            while data != b"":
                data = None
                with contextlib.suppress(TimeoutError):
                    data = connection.recv(1000)
                port.write(b"".join(manager.filter(data or b"")))
                if echo := port.read(1000):
                    connection.sendall(b"".join(manager.escape(echo)))

    serving = threading.Thread(target=serve)
    serving.start()
    link = open_link(f"rfc2217://127.0.0.1:{server.getsockname()[1]}", LINE)
    link.write(b"\nW\r")
    assert read_frame(link) == b"\nW\r"
    assert link.read(0.01) == b""
    link.close()
    serving.join(10.0)
    server.close()
    assert not serving.is_alive()


def test_ports_without_a_handle_are_read_too() -> None:
    link = open_link("loop://", LINE)
    assert link.read(0.0) == b""
    link.write(b"\n?\r")
    assert read_frame(link) == b"\n?\r"
    link.close()


def test_a_read_ends_at_the_first_byte_not_at_its_timeout(peer: PtyPeer) -> None:
    """The bound is coarse; the exact figure is a benchmark's business."""
    link = open_link(peer.path, LINE)
    peer.say(b"x")
    before = time.monotonic()
    assert link.read(60.0) == b"x"
    assert time.monotonic() - before < 10.0
    assert link.read(0.01) == b""
    link.close()


@pytest.mark.parametrize("url", ["pty", "loop://"])
def test_close_from_another_thread_ends_a_read(url: str, peer: PtyPeer) -> None:
    link = open_link(peer.path if url == "pty" else url, LINE)
    kinds: list[str] = []

    def read() -> None:
        try:
            link.read(60.0)
        except LinkError as error:
            kinds.append(error.kind)

    reader = threading.Thread(target=read)
    reader.start()
    link.close()
    reader.join(10.0)
    assert kinds == ["lost"]
    link.close()  # twice is once
    with pytest.raises(LinkError):
        link.write(b"W")


def test_a_pulled_cable_is_a_lost_link(peer: PtyPeer) -> None:
    link = open_link(peer.path, LINE)
    peer.unplug()
    with pytest.raises(LinkError) as caught:
        link.read(2.0)
    assert caught.value.kind == "lost"
    assert "cable" in caught.value.say
    link.close()


def test_a_port_that_takes_no_bytes_is_a_lost_link() -> None:
    master, slave = os.openpty()
    link = open_link(os.ttyname(slave), LINE)
    with pytest.raises(LinkError) as caught:
        link.write(b"\nW\r" * 50_000)
    assert caught.value.kind == "lost"
    assert "takes no more" in caught.value.say
    link.close()
    os.close(master)
    os.close(slave)


def test_a_port_in_use_is_busy(peer: PtyPeer) -> None:
    first = open_link(peer.path, LINE)
    error = refusal(peer.path)
    assert error.kind == "busy"
    assert peer.path in error.say
    first.close()
    open_link(peer.path, LINE).close()


def test_a_missing_port_says_which_are_there(monkeypatch: pytest.MonkeyPatch) -> None:
    class There:
        device = "/dev/ttyXYZ7"

    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [There()])
    error = refusal("/dev/not-a-port")
    assert error.kind == "missing"
    assert "there is /dev/ttyXYZ7" in error.say
    monkeypatch.setattr("serial.tools.list_ports.comports", list)
    assert "plugged in" in refusal("/dev/not-a-port").say


def test_nobody_at_the_other_end_of_a_network_port() -> None:
    peer = TcpPeer()
    peer.unplug()
    error = refusal(peer.url)
    assert error.kind == "missing"
    assert "refused" in error.say


@pytest.mark.parametrize(
    "url", ["", "  ", "nosuch://x", "socket://nohost", "socket://h:99999", "rfc2217://:1"]
)
def test_what_is_no_port_is_wrong(url: str) -> None:
    assert refusal(url).kind == "wrong"


def test_a_file_or_a_folder_is_no_port(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("not a port")
    for path in (file, tmp_path):
        error = refusal(str(path))
        assert error.kind == "wrong"
        assert "no serial port" in error.say
    assert file.read_text() == "not a port"


@pytest.mark.parametrize(
    "settings",
    [
        LineSettings(baud=-1),
        LineSettings(parity="X"),
        LineSettings(bytesize=9),
        LineSettings(stopbits=3),
    ],
)
def test_settings_that_no_line_has_are_wrong(settings: LineSettings, peer: PtyPeer) -> None:
    error = refusal(peer.path, settings)
    assert error.kind == "wrong"
    assert str(settings.baud) in error.say


def deny(monkeypatch: pytest.MonkeyPatch, error: Exception) -> None:
    def open_(self: object) -> None:
        raise error

    monkeypatch.setattr(serial.Serial, "open", open_)


@pytest.mark.parametrize(
    "error",
    [PermissionError(errno.EACCES, "no"), serial.SerialException(errno.EACCES, "could not open")],
)
def test_not_permitted_says_which_group_to_join(
    error: Exception, monkeypatch: pytest.MonkeyPatch, peer: PtyPeer
) -> None:
    grp = pytest.importorskip("grp")
    real = os.stat(peer.path)

    class Stat:
        st_gid, st_mode = real.st_gid, 0o020660

    group = grp.getgrgid(real.st_gid).gr_name
    monkeypatch.setattr("devices.link.os.stat", lambda _path: Stat)
    deny(monkeypatch, error)
    refused = refusal(peer.path)
    assert refused.kind == "not-permitted"
    if real.st_gid == 0:  # root's own group is nobody's to join
        assert "ask whoever" in refused.say
    else:
        assert f"usermod -aG {group} " in refused.say
        assert "log out and in again" in refused.say


def test_not_permitted_and_no_group_that_could_help(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    port = tmp_path / "port"
    port.touch(mode=0o600)
    deny(monkeypatch, PermissionError(errno.EACCES, "no"))
    refused = refusal(str(port))
    assert refused.kind == "not-permitted"
    assert "ask whoever" in refused.say


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("could not open port 'COM7': PermissionError(13, 'Access is denied.', None, 5)", "busy"),
        ("could not open port 'COM7': FileNotFoundError(2, 'no file', None, 2)", "missing"),
    ],
)
def test_windows_ways_of_saying_it(text: str, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """As pyserial 3.5 words them in serialwin32.py (open): a text, no number."""
    deny(monkeypatch, serial.SerialException(text))
    assert refusal("COM7").kind == kind
