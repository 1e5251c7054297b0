"""What a tag's square code says: a payload from plain values, and back. Pure.

A scanner types the payload into a bench where keys act. Rules:

1. It is of sixteen consonants. No digit, which would be of a figure; no blank, which is the
   pedal; no vowel, so that no part of it is a command, however slowly it is typed or where it
   is cut off; and only letters that lie on the same keys of QWERTY, QWERTZ and AZERTY.
2. It stands alone: ``cpsd``, the version, the kind, what it tells, and a check over all of
   that (CRC-32). Head and check stay as they are in every version, so that a damaged tag is
   told from a newer one.
3. What is damaged, foreign or newer is refused with a reason, and never half believed.
"""

from __future__ import annotations

import re
import zlib
from contextlib import suppress
from dataclasses import dataclass

from mixer.plan.layup import numbered, spoken

LETTERS = "bcdfghjklnprstvx"
HEAD, CHECK = "cpsd", 8  # the check's letters, of four bits each
#: The second is of a kit whose roll has a spread of its own: the first has no place for it.
VERSION, WITH_SPREAD = 1, 2
LONGEST = 80  # letters, of what the bench keeps of one scan
#: What a name is written in; the first of them ends an odd text, the last parts two fields.
SYMBOLS = "\0 abcdefghijklmnopqrstuvwxyz0123456789-.,/+()':&#_=*%<>!?;@$\"[]|"
MOST_NUMBER = 999  # of a tag, and of a ply
#: What a roll differs from its label, where nobody says it (common practice, no source).
USUAL_SPREAD, MOST_SPREAD = 0.05, 0.20
_CUT_OFF = 12  # so many of these letters are nobody's word, but a tag whose head was lost
_ROOM = (LONGEST - len(HEAD) - 2 - CHECK) // 3 * 2  # characters of what it tells


class TagError(ValueError):
    """One sentence: why this is no tag, or why none can be made of it."""


@dataclass(frozen=True, slots=True)
class Kit:
    """The cut plies of one sitting, with all that sizing needs of them.

    ``plies`` are their numbers in the layup, ascending. ``area_m2`` is of all of them together
    (to 1 cm2), ``cloth_g_m2`` the areal weight (to 0.1), of several fabrics their mean by area.
    ``method`` is the way of wetting out, where it is not the usual one; ``spread`` what its
    rolls may differ from that weight, as a part of it (to 0.001).
    """

    name: str
    plies: tuple[int, ...]
    area_m2: float
    cloth_g_m2: float
    method: str = ""
    spread: float = USUAL_SPREAD

    @property
    def cloth_g(self) -> float:
        """What its dry cloth weighs.

        >>> round(Kit("left wing top", (1, 2), 0.62, 300).cloth_g)
        186
        """
        return self.area_m2 * self.cloth_g_m2


@dataclass(frozen=True, slots=True)
class Numbered:
    """A tag that is used again and again; what it means is kept by the program."""

    number: int


@dataclass(frozen=True, slots=True)
class Jug:
    """The container of one component, by the names in its resin's profile."""

    resin: str
    component: str


Tag = Kit | Numbered | Jug


def payload(tag: Tag) -> str:
    """What its code says, at most 80 letters. Names are kept in small letters: a scan is read
    so. Raises :class:`TagError` where it cannot say that.

    >>> payload(Numbered(7))
    'cpsdcnlsbldhpdpbt'
    >>> len(payload(Kit("left wing top", (1, 2, 3, 4, 7), 0.62, 300)))
    56
    """
    version = VERSION
    match tag:
        case Kit():
            kind, fields = "k", _of_kit(tag)
            if len(fields) == 6:
                version = WITH_SPREAD
        case Numbered():
            if not 1 <= tag.number <= MOST_NUMBER:
                raise TagError(f"tag {tag.number}: give a number from 1 to {MOST_NUMBER}")
            kind, fields = "n", [str(tag.number)]
        case Jug():
            kind, fields = "j", [_name("resin", tag.resin), _name("component", tag.component)]
    told = "|".join(fields)
    if len(told) > _ROOM:
        raise TagError(
            f"{fields[0]!r}: {len(told) - _ROOM} characters too long for a tag with all that it "
            f"tells beside; give a shorter name{' or fewer plies' if kind == 'k' else ''}"
        )
    body = f"{HEAD}{LETTERS[version]}{kind}{_written(told)}"
    return body + _check(body)


def read(text: str) -> Tag:
    """The tag that was scanned, in small letters or capitals. Raises :class:`TagError`.

    >>> read("CPSDCNLSBLDHPDPBT")
    Numbered(number=7)
    >>> read("cpsdcnlsbldhpdpbx")
    Traceback (most recent call last):
    mixer.plan.tags.TagError: this tag did not come as it was printed ('cpsdcnlsbldhpdpbx'): scan \
it again, with the scanner set to this computer's keyboard, or print it anew
    """
    letters = text.strip().lower()
    if not is_ours(letters):
        raise TagError(f"{_shown(text)} is no tag of cupside's, which begin with {HEAD}")
    body, check = letters[:-CHECK], letters[-CHECK:]
    whole = len(HEAD) + 2 <= len(body) <= LONGEST - CHECK and set(letters) <= set(LETTERS)
    if not whole or check != _check(body):
        raise _damaged(text)
    version = LETTERS.index(body[len(HEAD)])
    if version not in (VERSION, WITH_SPREAD):
        raise TagError(
            f"this tag is of version {version}, and versions {VERSION} and {WITH_SPREAD} are read "
            "here: it is whole, but of another cupside; print it anew"
        )
    with suppress(ValueError):
        tag = _read(body[len(HEAD) + 1], _told(body[len(HEAD) + 2 :]))
        if tag is not None and payload(tag) == letters:  # one way to say a thing, and no other
            return tag
    raise _damaged(text)


def is_ours(text: str) -> bool:
    """Whether it is a tag of ours, whole or not.

    >>> is_ours("cpsdcnls"), is_ours("psdcnlsbldhpdpbt"), is_ours("4006381333931")
    (True, True, False)
    """
    letters = text.strip().lower()
    return letters.startswith(HEAD) or (len(letters) >= _CUT_OFF and set(letters) <= set(LETTERS))


def _of_kit(kit: Kit) -> list[str]:
    name, plies, area_m2, cloth_g_m2 = kit.name, kit.plies, kit.area_m2, kit.cloth_g_m2
    if beyond := [ply for ply in plies if not 1 <= ply <= MOST_NUMBER]:
        raise TagError(
            f"{name!r}: no tag tells ply {beyond[0]}; give plies from 1 to {MOST_NUMBER}"
        )
    if not plies or list(plies) != sorted(set(plies)):
        each = ", ".join(map(str, plies)) or "none"
        raise TagError(f"{name!r}: plies {each}; give their numbers rising, each once")
    if not 1e-4 <= area_m2 <= 100:
        raise TagError(f"{name!r}: an area of {area_m2:g} m2; give 1 cm2 to 100 m2")
    if not 5 <= cloth_g_m2 <= 5000:
        raise TagError(f"{name!r}: cloth of {cloth_g_m2:g} g/m2; give 5 to 5000 g/m2")
    fields = [_name("kit", name), spoken(plies, ","), _short(area_m2, 4), _short(cloth_g_m2, 1)]
    if not 0 < kit.spread <= MOST_SPREAD:
        raise TagError(f"{name!r}: a spread of {kit.spread:g}; give above 0, up to {MOST_SPREAD}")
    method = _name("method", kit.method) if kit.method else ""
    if (percent := _percent(kit.spread)) != _percent(USUAL_SPREAD):
        return [*fields, method, percent]
    return [*fields, method] if method else fields


def _name(what: str, name: str) -> str:
    small = name.lower()
    if not small or small != small.strip() or not set(small) <= set(SYMBOLS[1:-1]):
        accepted = "the letters a to z, digits, blanks within, and -.,/+()':&#_=*%<>!?;@$\"[]"
        raise TagError(f"{what}: {_shown(name)} cannot be a tag's name; give {accepted}")
    return small


def _read(kind: str, told: str) -> Tag | None:
    """What was told, as far as it can be a tag at all."""
    match kind, told.split("|"):
        case "k", [name, plies, area, cloth, *method] if len(method) < 2:
            return Kit(name, numbered(plies), _number(area), _number(cloth), "".join(method))
        case "k", [name, plies, area, cloth, method, percent]:
            figures = _number(area), _number(cloth)
            return Kit(name, numbered(plies), *figures, method, round(_number(percent) / 100, 4))
        case "n", [number] if re.fullmatch("[1-9][0-9]{0,2}", number):
            return Numbered(int(number))
        case "j", [resin, component]:
            return Jug(resin, component)
    return None


def _short(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".")


def _percent(spread: float) -> str:
    return _short(max(0.1, spread * 100), 1)


def _number(text: str) -> float:
    return float(text) if re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,4})?", text) else 0.0


def _written(told: str) -> str:
    """Two characters in three letters."""
    numbers = [SYMBOLS.index(char) for char in told + "\0" * (len(told) % 2)]
    pairs = zip(numbers[::2], numbers[1::2], strict=True)
    return "".join(_letters(64 * first + second, 3) for first, second in pairs)


def _told(letters: str) -> str:
    value = [LETTERS.index(letter) for letter in letters]
    triples = zip(value[::3], value[1::3], value[2::3], strict=False)
    numbers = [divmod(256 * a + 16 * b + c, 64) for a, b, c in triples]
    return "".join(SYMBOLS[first] + SYMBOLS[second] for first, second in numbers).rstrip("\0")


def _check(body: str) -> str:
    return _letters(zlib.crc32(body.encode("utf-8")), CHECK)


def _letters(number: int, count: int) -> str:
    return "".join(LETTERS[number >> 4 * place & 15] for place in reversed(range(count)))


def _damaged(text: str) -> TagError:
    return TagError(
        f"this tag did not come as it was printed ({_shown(text)}): scan it again, with the "
        "scanner set to this computer's keyboard, or print it anew"
    )


def _shown(text: str) -> str:
    return ascii(text if len(text) <= 24 else f"{text[:23]}~")
