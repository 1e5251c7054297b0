"""A stream of bytes to and from a scale: a serial port, or one served over a network.

For: opening it with a sentence that helps when that fails, reading with as little
delay as the system allows, and ending a read from another thread. It must never
know what the bytes mean, and never raise anything but :class:`LinkError`.

Ports open through pyserial's ``serial_for_url``, so ``socket://host:port`` and
``rfc2217://host:port`` work like a port's own name.
"""

from __future__ import annotations

import errno
import getpass
import os
import re
import select
import stat
import threading
import time
from dataclasses import dataclass
from typing import Literal
from urllib.parse import urlsplit

import serial
from serial.tools import list_ports

Trouble = Literal["missing", "busy", "not-permitted", "wrong", "lost"]

# A wait is cut into slices, so that close() from another thread is noticed.
_SLICE_S = 0.2
# Where the system cannot wait for a byte with a timeout of our choosing (ports on
# Windows, rfc2217://), pyserial waits, with one fixed timeout: to change it would
# negotiate the whole line anew.
_COARSE_SLICE_S = 0.02
_WRITE_S = 1.0
_CHUNK = 4096


class LinkError(Exception):
    """Why there is no link. ``say`` is one sentence for a person.

    ``kind``: ``missing`` no such port; ``busy`` another program has it;
    ``not-permitted``; ``wrong`` not a port's name, or a setting it cannot have;
    ``lost`` it was open and failed, or was closed.
    """

    def __init__(self, kind: Trouble, say: str) -> None:
        super().__init__(say)
        self.kind = kind
        self.say = say


@dataclass(frozen=True, slots=True)
class LineSettings:
    """How the bytes are sent on a serial line. A network port ignores them.

    >>> LineSettings()
    LineSettings(baud=9600, bytesize=8, parity='N', stopbits=1)
    """

    baud: int = 9600
    bytesize: int = 8
    parity: str = "N"
    stopbits: float = 1


class Link:
    """An open stream. One thread reads and writes; any may close.

    >>> link = open_link("loop://", LineSettings())
    >>> link.write(b"W")
    >>> link.read(1.0)
    b'W'
    >>> link.close()
    """

    def __init__(self, port: serial.Serial, name: str) -> None:
        self._port = port
        self._name = name
        self._closed = threading.Event()
        self._using = threading.Lock()  # the port is never closed under a read
        try:
            self._handle: int | None = port.fileno()
        except (OSError, AttributeError):
            self._handle = None

    def read(self, timeout_s: float) -> bytes:
        """What has come, as soon as anything has; ``b""`` after ``timeout_s`` of silence."""
        until_s = time.monotonic() + timeout_s
        while True:
            left_s = max(0.0, until_s - time.monotonic())
            with self._using:
                data = self._read_slice(min(left_s, _SLICE_S))
            if data or left_s == 0.0:
                return data

    def _read_slice(self, wait_s: float) -> bytes:
        if self._closed.is_set():
            raise LinkError("lost", f"The port {self._name} was closed.")
        try:
            if self._handle is not None:
                ready, _, _ = select.select([self._handle], [], [], wait_s)
                return bytes(self._port.read(_CHUNK)) if ready else b""
            first = bytes(self._port.read(1))
            return first + bytes(self._port.read(self._port.in_waiting)) if first else b""
        # pyserial lets through what the system below it throws
        except (OSError, ValueError, TypeError) as error:
            raise self._lost(error) from error

    def write(self, data: bytes) -> None:
        """Send all of ``data``."""
        with self._using:
            if self._closed.is_set():
                raise LinkError("lost", f"The port {self._name} was closed.")
            try:
                self._port.write(data)
            except (OSError, ValueError, TypeError) as error:
                raise self._lost(error) from error

    def close(self) -> None:
        """End it; a read in another thread ends within a fifth of a second."""
        if self._closed.is_set():
            return
        self._closed.set()
        with self._using:
            # A port whose device is gone may fail to close; it is gone all the same.
            try:
                self._port.close()
            except (OSError, ValueError, TypeError):
                return

    def _lost(self, error: Exception) -> LinkError:
        if isinstance(error, serial.SerialTimeoutException):
            return LinkError("lost", f"The port {self._name} takes no more bytes: "
                             "is the scale's cable in, and is the scale on?")  # fmt: skip
        return LinkError("lost", f"The port {self._name} failed: "
                         "is the scale's cable pulled, or the scale off?")  # fmt: skip


def open_link(url: str, settings: LineSettings) -> Link:
    """Open a port by its name or URL, for this program alone where the system can.

    Raises :class:`LinkError`: ``missing``, ``busy``, ``not-permitted`` or ``wrong``.
    """
    if not url.strip():
        raise LinkError("wrong", f"No port was named; {_ports_there()}.")
    try:
        port = serial.serial_for_url(
            url,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.bytesize,
            parity=settings.parity,
            stopbits=settings.stopbits,
            timeout=_COARSE_SLICE_S,
            # pyserial has no such limit for rfc2217://; there the network's own holds.
            write_timeout=None if url.lower().startswith("rfc2217:") else _WRITE_S,
            exclusive=True,
        )
        port.open()
        if _can_select(port):
            port.timeout = 0
    except (OSError, ValueError, TypeError) as error:
        raise _why(url, settings, error) from error
    return Link(port, url)


def _can_select(port: serial.Serial) -> bool:
    try:
        port.fileno()
    except (OSError, AttributeError):
        return False
    return True


def _why(url: str, settings: LineSettings, error: Exception) -> LinkError:
    number = error.errno if isinstance(error, OSError) else None
    text = str(error)
    if "://" in url:
        if not _is_address(url) or (isinstance(error, ValueError) and "not known" in text):
            return LinkError("wrong", f"“{url}” is no port; accepted are a port's name, "
                             "socket://HOST:PORT and rfc2217://HOST:PORT.")  # fmt: skip
        if isinstance(error, ValueError):
            return _unfit(url, settings)
        reason = re.sub(r".*\[Errno -?\d+\] |.*: ", "", text).rstrip(".").lower()
        return LinkError("missing", f"No scale answers at {url}: {reason}.")
    # Windows gives no number, but names its own exception; there, a port that may
    # not be opened is one that another program has.
    if number in (errno.EBUSY, errno.EAGAIN) or (number is None and "PermissionError" in text):
        return LinkError("busy", f"Another program is using the port {url}: close that first.")
    if number in (errno.EACCES, errno.EPERM):
        return LinkError("not-permitted", f"You may not open the port {url}: {_permit(url)}.")
    gone = (errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO, errno.ENOTDIR)
    if number in gone or (number is None and "FileNotFoundError" in text):
        return LinkError("missing", f"There is no port {url}; {_ports_there()}.")
    if isinstance(error, ValueError):
        return _unfit(url, settings)
    return LinkError("wrong", f"{url} is no serial port; {_ports_there()}.")


def _unfit(url: str, settings: LineSettings) -> LinkError:
    return LinkError("wrong", f"The port {url} cannot be set to {settings.baud} baud, "
                     f"{settings.bytesize}{settings.parity}{settings.stopbits:g}.")  # fmt: skip


def _is_address(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return bool(parts.hostname and parts.port)
    except ValueError:
        return False


def _ports_there() -> str:
    names = sorted(port.device for port in list_ports.comports())
    if not names:
        return "no serial port is there at all: is the scale plugged in and switched on?"
    return "there " + ("is " if len(names) == 1 else "are ") + ", ".join(names)


def _permit(path: str) -> str:
    """How to get permission: join the group that owns the device, where one does."""
    try:
        import grp  # not on Windows

        about = os.stat(path)
        group = grp.getgrgid(about.st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return "ask whoever looks after this computer for permission"
    if about.st_gid == 0 or not about.st_mode & stat.S_IRGRP or not about.st_mode & stat.S_IWGRP:
        return "ask whoever looks after this computer for permission"
    try:
        user = getpass.getuser()
    except (OSError, KeyError):
        user = "YOU"
    return f"run “sudo usermod -aG {group} {user}”, then log out and in again"
