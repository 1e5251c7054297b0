"""The envelope of one fact: its canonical bytes, and the hash that chains it.

Pure. The bytes are the truth of the record: the RFC 8785 form (JSON Canonicalization
Scheme) of one object, so that whoever writes the same fact in any language gets the
same bytes, and its hash can be worked out again in ten years without this program.
The hash of a fact is SHA-256 over the 32 bytes of the hash before it and its own
canonical bytes; before the first fact stand 32 zero bytes.

It must never store a value that would come back as another one: what RFC 8785 cannot
carry exactly is refused with a sentence, not rounded.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from hashlib import sha256
from typing import Any, NoReturn

import rfc8785

#: The version of the envelope itself, written into each fact as ``v``.
VERSION = 1
#: What stands before the first fact.
GENESIS = bytes(32)

_KEYS = {"v", "seq", "batch", "station", "boot", "at_ms", "utc", "kind", "data"}
_UTC = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)
#: Beyond this a JSON number no longer names one whole number (RFC 8785, appendix D).
_INT_MAX = 2**53 - 1
_ACCEPTED = (
    f"accepted are whole numbers up to {_INT_MAX} either way, finite numbers, text, "
    "true, false, null, lists, and tables whose keys are text"
)


class RecordError(Exception):
    """The record cannot do what was asked. ``say`` is one sentence for a person."""

    def __init__(self, say: str) -> None:
        super().__init__(say)
        self.say = say


@dataclass(frozen=True, slots=True)
class Entry:
    """One fact, as the program knows it.

    ``data`` holds whole numbers, text, booleans, None, finite floats, lists and
    dicts (a tuple comes back as a list, ``2.0`` as ``2``). ``at_ms`` is milliseconds
    since boot on a clock that runs on while the computer sleeps, comparable only
    within the same ``boot``; ``utc`` is ISO 8601 with milliseconds and ``Z``.
    ``batch`` 0 is a fact of no batch.
    """

    kind: str
    data: dict[str, Any]
    at_ms: int
    boot: str
    utc: str
    batch: int
    station: str


@dataclass(frozen=True, slots=True)
class Sealed:
    """A fact in its place in the chain: ``hash`` = SHA-256(``prev`` + ``canonical``)."""

    seq: int
    canonical: bytes
    prev: bytes
    hash: bytes
    entry: Entry


def chained(prev: bytes, canonical: bytes) -> bytes:
    """The hash of a fact whose forerunner has the hash ``prev``.

    >>> chained(GENESIS, b"{}").hex()[:16]
    'fb1634c4e6cd4b1f'
    """
    return sha256(prev + canonical).digest()


def seal(entry: Entry, seq: int, prev: bytes) -> Sealed:
    """Put a fact in its place. What cannot be stored exactly is a :class:`RecordError`.

    >>> utc = "2024-05-01T08:00:00.000Z"
    >>> fact = Entry("noted", {"text": "warm"}, 1200, "b1", utc, batch=7, station="shop")
    >>> seal(fact, 1, GENESIS).canonical.decode()[:64]
    '{"at_ms":1200,"batch":7,"boot":"b1","data":{"text":"warm"},"kind'
    """
    why = _wrong_field(entry, seq)
    if why is None:
        try:
            canonical = rfc8785.dumps(_object(entry, seq))
        except RecursionError:
            why = "its data is nested too deeply"
        except ValueError as err:
            why = _wrong_value(entry.data, "data") or str(err)
        else:
            return Sealed(seq, canonical, prev, chained(prev, canonical), entry)
    raise RecordError(f"The fact “{entry.kind}” cannot be stored: {why}.")


def read(canonical: bytes) -> tuple[int, Entry]:
    """The place and the fact in these bytes.

    >>> read(b'{"v": 1}')
    Traceback (most recent call last):
    mixer.record.envelope.RecordError: These bytes are no fact: they lack at_ms, batch, boot, \
data, kind, seq, station, utc.
    """
    try:
        told = _JSON.decode(canonical.decode("utf-8"))
    except (ValueError, RecursionError) as err:
        raise RecordError(f"These bytes are no fact: {err}.") from None
    if not isinstance(told, dict):
        raise RecordError("These bytes are no fact: an object with keys and values is needed.")
    if missing := sorted(_KEYS - told.keys()):
        raise RecordError(f"These bytes are no fact: they lack {', '.join(missing)}.")
    if type(told["v"]) is not int or told["v"] != VERSION:
        raise RecordError(
            f"This fact has an envelope of version {told['v']!r}; this program knows {VERSION}."
        )
    entry = Entry(**{key: told[key] for key in _KEYS - {"v", "seq"}})
    if why := _wrong_field(entry, told["seq"]):
        raise RecordError(f"These bytes are no fact: {why}.")
    return told["seq"], entry


def _object(entry: Entry, seq: int) -> dict[str, Any]:
    return {
        "v": VERSION,
        "seq": seq,
        "batch": entry.batch,
        "station": entry.station,
        "boot": entry.boot,
        "at_ms": entry.at_ms,
        "utc": entry.utc,
        "kind": entry.kind,
        "data": entry.data,
    }


def _number(digits: str) -> int | float:
    # A float of 1e16 is written without a point, and must come back as what it was.
    value = float(digits)
    return int(digits) if abs(value) <= _INT_MAX else value


def _finite(digits: str) -> float:
    value = float(digits)
    return value if math.isfinite(value) else _refuse(digits)


def _refuse(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a finite number")


_JSON = json.JSONDecoder(parse_int=_number, parse_float=_finite, parse_constant=_refuse)


def _wrong_field(entry: Entry, seq: object) -> str | None:
    whole = {"seq": (seq, 1), "batch": (entry.batch, 0), "at_ms": (entry.at_ms, 0)}
    for name, (value, least) in whole.items():
        if not isinstance(value, int) or isinstance(value, bool) or value < least:
            return f"{name} is {value!r}; a whole number from {least} up is needed"
        if value > _INT_MAX:
            return f"{name} is {value}; {_ACCEPTED}"
    for name, text in (("kind", entry.kind), ("boot", entry.boot), ("station", entry.station)):
        if not isinstance(text, str) or (not text and name == "kind"):
            return f"{name} is {text!r}; text is needed"
        if why := _wrong_value(text, name):
            return why
    if not isinstance(entry.utc, str) or not _UTC.fullmatch(entry.utc):
        return f"utc is {entry.utc!r}; a time like 2024-05-01T08:00:00.000Z is needed"
    if not isinstance(entry.data, dict):
        return f"data is {entry.data!r}; a table is needed"
    return None


def _wrong_value(value: object, where: str) -> str | None:
    """Where in ``value`` stands what cannot be stored, and what could; None if nothing."""
    if value is None or isinstance(value, bool):
        return None
    if isinstance(value, str):
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            return f"{where} is text that holds half a character ({value!r})"
        return None
    if isinstance(value, int):
        return None if abs(value) <= _INT_MAX else f"{where} is {value}; {_ACCEPTED}"
    if isinstance(value, float):
        if math.isfinite(value):
            return None
        return f"{where} is {value}, not a finite number; {_ACCEPTED}"
    if isinstance(value, list | tuple):
        parts = ((f"{where}[{index}]", item) for index, item in enumerate(value))
        return next((why for at, item in parts if (why := _wrong_value(item, at))), None)
    if isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str):
                return f"{where} has the key {key!r}; {_ACCEPTED}"
            why = _wrong_value(key, f"a key of {where}") or _wrong_value(item, f"{where}.{key}")
            if why is not None:
                return why
        return None
    return f"{where} is {value!r}; {_ACCEPTED}"
