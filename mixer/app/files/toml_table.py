"""A TOML file read key by key, each with what it may be.

Keeps three things beside the values: which keys were asked for, so that any other
is refused as a slip of the pen; where in the file each stands, so that the sentence
of an error can say it; and what the file comes to with its defaults written out,
which is what the journal keeps. It must never let a wrong value through as a default.
"""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from mixer.units import OutOfSpan, UnitsError, fraction, shown

LARGEST = 64 * 1024
"""Bytes. A profile has a few hundred; this only keeps a wrong file from being read."""

LONG_NUMBER = re.compile(rb"[0-9_]{4301,}")  # Python reads none of more digits
TOLERANCE_MOST = 0.20
LONGEST_TEXT = 500

T = TypeVar("T")


At = tuple[str | int, ...]
"""A place in a file: keys, and places in a list from 0, down to the last key."""


class ProfileError(ValueError):
    """One sentence: the file, the key, what was read and what is accepted. ``at`` is empty where
    it is about no key."""

    def __init__(self, said: str, at: At = ()) -> None:
        super().__init__(said)
        self.at = at


def read_toml(path: Path, largest: int = LARGEST) -> Table:
    """The whole file as a table, or a :class:`ProfileError`."""
    if not str(path).isprintable():
        raise ProfileError(f"{shown(str(path))}: not a file name; give the path of a .toml file")
    try:
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ProfileError(f"{path}: cannot be read ({reason})") from error
    if len(data) > largest:
        raise ProfileError(f"{path}: is larger than {largest} bytes, so it is not read")
    try:
        content = tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise ProfileError(f"{path}: {not_utf8(data, error)}") from error
    except ValueError as error:  # with the line, in tomllib's own words
        digits = LONG_NUMBER.search(data)
        if digits and not isinstance(error, tomllib.TOMLDecodeError):  # else they are Python's
            line = data.count(b"\n", 0, digits.start()) + 1
            raise ProfileError(
                f"{path}: line {line}: a number of {len(digits[0])} digits was read; accepted: "
                "one that a person can read"
            ) from error
        last = f"(at line {len(data.splitlines())}, where the file ends)"
        why = str(error).replace("(at end of document)", last)
        raise ProfileError(f"{path}: is not TOML: {_one_line(why)}") from error
    except RecursionError as error:
        raise ProfileError(f"{path}: is not TOML that can be read: nested too deep") from error
    return Table(str(path), "", content)


def not_utf8(data: bytes, error: UnicodeDecodeError) -> str:
    """Where a file is no text."""
    line = len((data[: error.start] + b"x").splitlines())
    return f"line {line}, byte {error.start} is not UTF-8 text"


class Table:
    """One table of the file. ``resolved`` grows as keys are read."""

    def __init__(self, file: str, where: str, content: dict[str, Any], at: At = ()) -> None:
        self._file = file
        self._place = at
        self._where = where
        self._content = content
        self._asked: list[str] = []
        self.resolved: dict[str, Any] = {}

    @property
    def folder(self) -> Path:
        """Where the file is: a path in it is meant from there."""
        return Path(self._file).parent

    def wrong(self, key: str, value: object, accepted: str) -> ProfileError:
        """The error for a key whose value does not do."""
        said = f"{self._at(key)}: {shown(value)} was read; accepted: {accepted}"
        return ProfileError(said, (*self._place, key))

    def named(self, key: str, error: ProfileError) -> ProfileError:
        """The error of another file, which stands at this key."""
        return ProfileError(f"{self._at(key)}: {error}", (*self._place, key))

    def text(self, key: str, default: str | None = None, longest: int = LONGEST_TEXT) -> str:
        """Printable text, not blank unless the default is."""
        value = self._get(key, "text in quotes", default)
        if not isinstance(value, str) or len(value) > longest or not value.isprintable():
            raise self.wrong(key, value, f"text in quotes, one line, up to {longest} long")
        if not value.strip() and value != default:
            raise self.wrong(key, value, "text that is not blank")
        return self._keep(key, value)

    def choice(self, key: str, accepted: tuple[T, ...], default: T | None = None) -> T:
        """One of a few values."""
        words = _either(accepted)
        value = self._get(key, words, default)
        for one in accepted:
            # True is 1 to Python, and not to the person who wrote it.
            if value == one and isinstance(value, bool) == isinstance(one, bool):
                return self._keep(key, one)
        raise self.wrong(key, value, words)

    def number(
        self,
        key: str,
        least: float,
        most: float,
        default: float | None = None,
        *,
        whole: bool = False,
        above: bool = False,
    ) -> float:
        """A bare number from ``least`` (or above it) to ``most``."""
        accepted = f"a {'whole ' if whole else ''}number {'above' if above else 'from'} {least}"
        accepted += f" and up to {most}" if above else f" to {most}"
        value = self._get(key, accepted, default)
        if isinstance(value, bool) or not isinstance(value, int if whole else int | float):
            raise self.wrong(key, value, accepted)
        if not least <= value <= most or (above and value == least):  # false for NaN too
            raise self.wrong(key, value, accepted)
        return self._keep(key, value)

    def quantity(
        self,
        key: str,
        read: Callable[[str, str], float],
        least: float,
        most: float,
        span: str,
        default: str | None = None,
    ) -> float:
        """A quantity in words, read by a function of :mod:`mixer.units`."""
        value = self._get(key, f"text with a unit, {span}", default)
        if not isinstance(value, str):
            raise self.wrong(key, value, f"text with a unit in quotes, {span}")
        try:
            number = read(value, self._at(key))
        except OutOfSpan:  # of what any such quantity may be: this one may be less
            raise self.wrong(key, value, span) from None
        except UnitsError as error:
            raise ProfileError(str(error), (*self._place, key)) from error
        # A millionth of slack: '0.5 g/mL' must not fail by the rounding of a conversion.
        slack = 1e-6 * max(abs(least), abs(most))
        if not math.isfinite(number) or not least - slack <= number <= most + slack:
            raise self.wrong(key, value, span)
        self._keep(key, value)
        return number

    def has(self, key: str) -> bool:
        """Whether this optional key is there; it is known from here on."""
        if key not in self._asked:
            self._asked.append(key)
        return key in self._content

    def tolerance(self, key: str, default: str | None = None) -> float:
        """A relative tolerance, above 0 and up to 20 %."""
        accepted = f"above 0 % and up to {TOLERANCE_MOST:.0%}"
        value = self.quantity(key, fraction, 0, TOLERANCE_MOST, accepted, default)
        if value == 0:
            raise self.wrong(key, self.resolved[key], accepted)
        return value

    def table(self, key: str, *, optional: bool = False) -> Table:
        """A ``[key]`` of this file; an empty one where an optional one is absent."""
        value = self._get(key, f"a table [{key}]", {} if optional else None)
        if not isinstance(value, dict):
            raise self.wrong(key, value, f"a table [{key}]")
        child = Table(self._file, f"{self._where}{key}.", value, (*self._place, key))
        self.resolved[key] = child.resolved
        return child

    def tables(self, key: str) -> list[Table]:
        """Every ``[[key]]`` of this file, in order."""
        accepted = f"tables [[{re.sub(r' [0-9]+, ', '.', self._where)}{key}]]"  # as it is written
        value = self._get(key, accepted, None)
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.wrong(key, value, accepted)
        children = [
            Table(self._file, f"{self._where}{key} {i}, ", v, (*self._place, key, i - 1))
            for i, v in enumerate(value, 1)
        ]
        self.resolved[key] = [child.resolved for child in children]
        return children

    def close(self) -> None:
        """Refuse any key that nobody asked for: a misspelt one would be left out."""
        for key in self._content:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, 1)
                hint = f" (is {near[0]!r} meant?)" if near else ""
                raise ProfileError(
                    f"{self._file}: {self._where}{_one_line(key)}: is not known here{hint}; "
                    f"accepted: {', '.join(self._asked)}",
                    (*self._place, key),
                )

    def _at(self, key: str) -> str:
        return f"{self._file}: {self._where}{key}"

    def _get(self, key: str, accepted: str, default: object) -> Any:
        self.has(key)
        if key in self._content:
            return self._content[key]
        if default is None:
            self._refuse_slip(key)
            said = f"{self._at(key)}: is missing; accepted: {accepted}"
            raise ProfileError(said, (*self._place, key))
        return default

    def _refuse_slip(self, key: str) -> None:
        """Say rather which key was misspelt than that the right one is missing."""
        for near in difflib.get_close_matches(key, list(self._content), 1, 0.75):
            if near not in self._asked:
                said = f"{self._at(near)}: is not known here (is {key!r} meant?)"
                raise ProfileError(said, (*self._place, near))

    def _keep(self, key: str, value: T) -> T:
        self.resolved[key] = value
        return value


@cache  # an outline's is asked for with each ply
def _either(accepted: tuple[object, ...]) -> str:
    return " or ".join(repr(one) for one in accepted)


def _one_line(text: str) -> str:
    short = text if len(text) <= 120 else text[:120] + "…"
    return "".join(c if c.isprintable() else "?" for c in short)
