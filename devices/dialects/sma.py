"""The open scale protocol SMA SCP-0499, both ways: the host's side and the scale's.

For: turning the bytes of such a scale into values, and answering as one. It must
never do input or output, look at a clock, raise on any bytes whatever, or let a
weight through that was not one whole frame, every column of which makes sense.

Source: Scale Manufacturers Association, SCP-0499, "Standard Scale Serial
Communication Protocol", levels 1 and 2 (1999, modified 2005). Level 1 (``W Z D A B``
and ESC) is here whole; of level 2, ``P R T C I N``.

Theory of operation. Everything on the line is a *frame*: LF, printable characters,
CR. :class:`Framer` cuts frames out of the stream one byte at a time, so portions do
not matter, and holds at most ``LONGEST`` bytes. LF always begins anew: what stood
before it without a CR was cut off. A frame is a weight if it has 18 columns ::

    status  range  gross/net  motion  reserved  weight (10)  unit (3)
    ZOUEIT  digit  GNTgn      M       any       right-justified  left-justified

(blank or ``_`` where there is nothing to say), information if it begins with three
capitals and a colon, a diagnosis if it has four columns, ``?`` or ``!``. All else is
nonsense and is reported as such, with what would have been accepted.

The weight stands hard against the right end of its columns and the unit hard against
the left end, so a byte that is lost, doubled or blanked in the unit or at a figure's
end is noticed. A scale that sets its unit to the right all the same is read from the
second such frame in a row on: a ``k`` that was blanked once makes no gram. The
protocol has no checksum: a digit that became another digit (or the first digit a
blank, or ``mg`` that became ``kg``) is *not* noticed, here or by anyone. That is why a
weight never counts from a single frame.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from devices.readings import UG_PER_UNIT, About, Fault, FaultKind, Reading, Said

LF, CR, ESC = 0x0A, 0x0D, 0x1B
LONGEST = 80  # bytes in a frame; the longest that means something is a CMD: line
_MOST_LINES = 32  # of information, should END: never come
_SHOWN = 40  # characters of what makes no sense: more of it helps nobody

UNKNOWN = b"\n?\r"  # the scale's answer to a command that it does not have
DAMAGED = b"\n!\r"  # the scale's answer to a command that did not arrive whole

DASHES = "-" * 10
_UNITS = ", ".join(UG_PER_UNIT)
_BODY = re.compile(
    r"(?P<status>[ZOUEIT _])(?P<range>[0-9 _])(?P<net>[GNTgn])(?P<motion>[M _])[ -~]"
    r"(?P<weight>[ -~]{10})(?P<unit>[A-Za-z]{1,3}[ _]*)"
)
_FIGURE = re.compile(r"[ _]*(?P<minus>-?)[ _]*(?P<digits>[0-9]+\.?[0-9]*|\.[0-9]+)")
_INFO = re.compile(r"([A-Z]{3}):([ -~]*)")
_DIAGNOSIS = re.compile(r"[R _][E _][C _][ _]")
_CAP = re.compile(r" *([A-Za-z]{1,3}) *: *([0-9]+\.?[0-9]*) *: *([0-9]+\.?[0-9]*) *: *([0-9]) *")
_COMMAND = re.compile(r"([A-Za-z])([ -~]*)")
_TROUBLE = {
    "O": (FaultKind.OVERLOAD, "The scale shows overload: there is more on it than it can weigh."),
    "U": (FaultKind.UNDERLOAD, "The scale shows underload: its pan is lifted, or not on it."),
    "E": (FaultKind.SCALE_ERROR, "The scale reports a zero error: it needs to be zeroed, empty."),
    "I": (FaultKind.SCALE_ERROR, "The scale could not find zero when it was switched on: "
                                 "empty it, then switch it off and on."),
    "T": (FaultKind.SCALE_ERROR, "The scale reports a tare error: clear its own tare."),
}  # fmt: skip


# --- frames, both ways -----------------------------------------------------------


class Framer:
    """Cuts a stream of bytes into frames; holds at most ``LONGEST`` of them.

    ``feed`` gives ``(body, whole)`` pairs. ``whole`` is false for what was no frame:
    bytes between frames, one cut off by the next, one too long, an alien byte.

    >>> Framer().feed(b"tail\\r" + b"\\nW\\r" + b"\\n12" + b"\\n?\\r")
    [(b'W', True), (b'12', False), (b'?', True)]
    """

    def __init__(self) -> None:
        self._held = bytearray()
        self._inside = False
        # Whoever joins a line that is already talking hears the end of a frame
        # first; that is nobody's fault and is not reported.
        self._joining = True

    def feed(self, data: bytes) -> list[tuple[bytes, bool]]:
        found: list[tuple[bytes, bool]] = []
        for byte in data:
            if byte == LF:
                if self._held and not self._joining:
                    found.append((bytes(self._held), False))
                self._start(inside=True)
            elif byte == CR and self._inside:
                body = bytes(self._held)
                found.append((body, body.isascii() and body.decode().isprintable()))
                self._start(inside=False)
            elif byte == CR and not self._held:
                pass  # CR CR, or CR LF as a line's end: common, harmless
            else:
                self._held.append(byte)
                if len(self._held) >= LONGEST:
                    found.append((bytes(self._held), False))
                    self._start(inside=False)
        return found

    def _start(self, *, inside: bool) -> None:
        self._held.clear()
        self._inside = inside
        self._joining = False


def _frame(body: str) -> bytes:
    return b"\n" + body.encode("ascii") + b"\r"


@dataclass(frozen=True, slots=True)
class Weight:
    """The columns of a weight. ``text`` is the figure without padding (``"-5.025"``),
    ten dashes with the statuses E, I and T; ``unit`` as sent, without padding.
    """

    text: str
    unit: str
    status: Literal["Z", "O", "U", "E", "I", "T", " "] = " "
    net: Literal["G", "N", "T", "g", "n"] = "G"
    moving: bool = False
    range: str = "1"


def encode_weight(weight: Weight, pad: str = " ") -> bytes:
    """A weight as a scale sends it; ``pad`` is what this scale pads with.

    Raises ``ValueError`` on a weight that :func:`decode_weight` would not give back.

    >>> encode_weight(Weight("5.025", "lb"))
    b'\\n 1G       5.025lb \\r'
    """
    body = (
        weight.status
        + weight.range
        + weight.net
        + ("M" if weight.moving else " ")
        + " "
        + weight.text.rjust(10)
        + weight.unit.ljust(3)
    ).replace(" ", pad)
    if pad not in (" ", "_") or decode_weight(body) != weight:
        raise ValueError(f"{weight} does not fit the columns of a weight frame")
    return _frame(body)


def decode_weight(body: str) -> Weight | str:
    """The columns of a frame's body, or a clause that says what is wrong with them.

    >>> decode_weight(" 1NM     -12.5g  ")
    'it has 17 characters, not 18'
    >>> decode_weight(" 1NM _____-12.5g__")
    Weight(text='-12.5', unit='g', status=' ', net='N', moving=True, range='1')
    """
    if len(body) != 18:
        return f"it has {len(body)} character{'s' * (len(body) != 1)}, not 18"
    columns = _BODY.fullmatch(body)
    if columns is None:
        return "its columns are not status, range, gross or net, motion, weight, unit"
    status = columns["status"].replace("_", " ")
    unit = columns["unit"].rstrip(" _")
    if unit.lower() not in UG_PER_UNIT:
        return f"its unit is “{unit}”; accepted are {_UNITS}"
    if status in "EIT" and columns["weight"] == DASHES:
        text = DASHES
    else:
        figure = _FIGURE.fullmatch(columns["weight"])
        # With O and U there may be no figure to show; the status says it all.
        if figure is None and status not in "OU":
            return f"“{columns['weight']}” is no weight; accepted are digits, a point, a minus"
        shown = columns["weight"].strip(" _")
        text = figure["minus"] + figure["digits"] if figure else shown
    return Weight(
        text=text,
        unit=unit,
        status=status,  # type: ignore[arg-type]  # the pattern admits no other
        net=columns["net"],  # type: ignore[arg-type]
        moving=columns["motion"] == "M",
        range=columns["range"].replace("_", " "),
    )


def micrograms(figure: str, unit: str) -> int:
    """A figure in a unit of ``UG_PER_UNIT`` as micrograms, exactly; a half goes to even.

    >>> micrograms("5.025", "lb"), micrograms("-.5", "mg")
    (2279301659, -500)
    """
    return round(Decimal(figure) * UG_PER_UNIT[unit.lower()])


def encode_command(name: str, argument: str = "") -> bytes:
    """A host's command: ``Z`` zero, ``T`` tare (or ``T`` and a weight: that tare), ``C``
    clear tare, ``D`` diagnosis, ... ESC stands alone, without LF and CR.

    >>> encode_command("W"), encode_command("T", "12.5g")
    (b'\\nW\\r', b'\\nT12.5g\\r')
    """
    return b"\x1b" if name == "\x1b" else _frame(name + argument)


# --- the host's side -------------------------------------------------------------


class Sma:
    """A host's reading of one scale. ``ask``: how it is asked for a weight.

    ``W`` as displayed, at once; ``P`` once it is still; ``R`` over and over, asked once.

    >>> scale = Sma()
    >>> scale.ask()
    b'\\nW\\r'
    >>> scale.feed(b"\\n 1G        5") + scale.feed(b"6.1g  \\r")
    [Reading(mass_ug=56100000, text='56.1 g', unit='g', division_ug=100000, still=True, \
scale_tared=False, at_s=0.0, weighing_range=1)]
    """

    def __init__(self, ask: Literal["W", "P", "R"] = "W") -> None:
        if ask not in ("W", "P", "R"):
            raise ValueError(f"ask is {ask!r}; accepted are W, P and R")
        self._ask = ask
        self._framer = Framer()
        self._lines: list[str] | None = None  # information so far; None: none awaited
        self._next = "N"  # the command for the next line of it
        self._due = b""
        self._unit_right = ""  # the unit's columns of the last weight, if set to the right

    @property
    def repeats(self) -> bool:
        return self._ask == "R"

    @property
    def patience_s(self) -> float:
        # A P waits for stillness and an R goes at the scale's own rate.
        return 0.4 if self._ask == "W" else 2.0

    def ask(self) -> bytes:
        """The command for a weight. Information still awaited is given up."""
        self._lines, self._due = None, b""
        return encode_command(self._ask)

    def ask_about(self) -> bytes:
        """Begin to ask for information; send :meth:`follow_up` until an About comes."""
        self._lines, self._next, self._due = [], "N", b""
        return encode_command("I")

    def follow_up(self) -> bytes:
        due, self._due = self._due, b""
        return due

    def restart(self) -> None:
        self._framer = Framer()
        self._lines, self._due = None, b""

    def feed(self, data: bytes) -> list[Said]:
        said: list[Said] = []
        for body, whole in self._framer.feed(data):
            said += self._read(body, whole)
        return said

    def _read(self, body: bytes, whole: bool) -> list[Said]:
        text = printable(body)
        if not whole:
            return [_nonsense(text, "it is no whole frame; look at cable, speed and parity")]
        if text == "?":
            if self._lines is not None:
                return self._no_more_information()
            return [Fault(FaultKind.REFUSED, text, "The scale does not know the command "
                          f"{self._ask}; another way of asking may be accepted.")]  # fmt: skip
        if text == "!":
            return [Fault(FaultKind.NONSENSE, text, "The scale says that what it was asked "
                          "arrived damaged; check cable, speed and parity.")]  # fmt: skip
        if not text.strip(" _") and len(text) in (0, 4):
            return []  # an empty line, or a diagnosis: all is well
        if info := _INFO.fullmatch(text):
            return self._information(text, info[1])
        if ill := decode_diagnosis(text):
            return [Fault(FaultKind.SCALE_ERROR, text,
                          f"The scale finds fault with its own {' and '.join(ill)}.")]  # fmt: skip
        before, self._unit_right = self._unit_right, text[-3:] if text[-3:-2] in (" ", "_") else ""
        again = self._unit_right and self._unit_right == before
        weight = decode_weight(text[:-3] + text[-3:].lstrip(" _").ljust(3) if again else text)
        if isinstance(weight, str):
            return [_nonsense(text, weight)]
        return [_judge(weight, text)]

    def _information(self, text: str, key: str) -> list[Said]:
        if self._lines is None:
            return []  # nobody waits for it any more
        if key == "END" or len(self._lines) >= _MOST_LINES:
            return self._end_of_information()
        self._lines.append(text)
        self._due = encode_command(self._next)
        return []

    def _no_more_information(self) -> list[Said]:
        if self._lines or self._next == "B":
            return self._end_of_information()
        # I is level 2; a scale of level 1 tells of itself on A and B.
        self._next, self._due = "B", encode_command("A")
        return []

    def _end_of_information(self) -> list[Said]:
        lines, self._lines, self._due = self._lines or [], None, b""
        caps = [cap for line in lines if (cap := decode_capacity(line)) is not None]
        # A scale of several ranges or units says one CAP each: what it can bear at most,
        # and of each unit the coarsest step that one must reckon with.
        steps: dict[str, int] = {}
        for unit, _, step_ug in caps:
            steps[unit] = max(step_ug, steps.get(unit, 0))
        most = max((capacity for _, capacity, _ in caps), default=None)
        return [About(most, tuple(sorted(steps.items())), "; ".join(lines))]


def _judge(weight: Weight, text: str) -> Said:
    if weight.status in _TROUBLE:
        kind, say = _TROUBLE[weight.status]
        return Fault(kind, text, say)
    if weight.net == "T":
        return _nonsense(text, "it is a tare; accepted is a gross or a net weight")
    unit = weight.unit.lower()
    decimals = len(weight.text.partition(".")[2])
    return Reading(
        mass_ug=micrograms(weight.text, unit),
        text=f"{weight.text} {weight.unit}",
        unit=unit,
        # One step of the last digit; where a scale counts by 2 or 5, About has it.
        division_ug=max(1, round(UG_PER_UNIT[unit] / 10**decimals)),
        still=not weight.moving,
        scale_tared=weight.net in "Nn",
        weighing_range=int(weight.range.strip() or 1),
    )


def _nonsense(text: str, why: str) -> Fault:
    shown = text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
    return Fault(FaultKind.NONSENSE, text, f"The scale sent “{shown}”, which is no weight: {why}.")


def printable(body: bytes) -> str:
    """Bytes as text that can be shown: alien ones as ``\\xNN``."""
    if body.isascii() and (text := body.decode()).isprintable():
        return text
    return "".join(chr(b) if 0x20 <= b < 0x7F else f"\\x{b:02x}" for b in body)


def decode_capacity(line: str) -> tuple[str, int, int] | None:
    """``(unit, capacity_ug, division_ug)`` of a CAP line; None where it is none.

    The division is count-by moved right by the decimals; a count-by with a point in
    it is taken as it stands, and so is the capacity.

    >>> decode_capacity("CAP:g:500:1:1"), decode_capacity("CAP:g:500:0.1:1")
    (('g', 500000000, 100000), ('g', 500000000, 100000))
    """
    cap = _CAP.fullmatch(line[4:]) if line.startswith("CAP:") else None
    if cap is None or cap[1].lower() not in UG_PER_UNIT:
        return None
    step = cap[3] if "." in cap[3] else f"{cap[3]}e-{cap[4]}"
    unit = cap[1].lower()
    capacity_ug, division_ug = micrograms(cap[2], unit), micrograms(step, unit)
    return (unit, capacity_ug, division_ug) if capacity_ug > 0 and division_ug > 0 else None


def decode_diagnosis(body: str) -> list[str]:
    """What a diagnosis finds ill; nothing where all is well, or where it is none.

    >>> decode_diagnosis("R C ")
    ['memory', 'calibration']
    """
    if not _DIAGNOSIS.fullmatch(body):
        return []
    names = {"R": "memory", "E": "EEPROM", "C": "calibration"}
    return [names[letter] for letter in body if letter in names]


# --- the scale's side ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Command:
    """What a host wants: a letter (or ESC), and what follows it. A command that did
    not arrive whole is ``damaged`` and is answered with ``DAMAGED``.
    """

    name: str
    argument: str = ""
    damaged: bool = False


class CommandReader:
    """Cuts a host's bytes into commands, in whatever portions they come.

    >>> CommandReader().feed(b"\\nW\\r\\nT12.5g\\r\\x1b")
    [Command(name='W', argument='', damaged=False), \
Command(name='T', argument='12.5g', damaged=False), \
Command(name='\\x1b', argument='', damaged=False)]
    """

    def __init__(self) -> None:
        self._framer = Framer()

    def feed(self, data: bytes) -> list[Command]:
        found: list[Command] = []
        before, *rest = data.split(b"\x1b")
        found += self._cut(before)
        for part in rest:  # ESC calls off what was being sent, too
            self._framer = Framer()
            found += [Command("\x1b"), *self._cut(part)]
        return found

    def _cut(self, data: bytes) -> list[Command]:
        return [
            Command(command[1], command[2])
            if whole and (command := _COMMAND.fullmatch(body.decode("ascii")))
            else Command("", printable(body), damaged=True)
            for body, whole in self._framer.feed(data)
        ]


def decode_tare(argument: str) -> tuple[str, str] | None:
    """Figure and unit (``""``: the one shown) of a T command's weight; None if it is none.

    >>> decode_tare("      12.5g  "), decode_tare("12.5"), decode_tare("?")
    (('12.5', 'g'), ('12.5', ''), None)
    """
    weight = re.fullmatch(_FIGURE.pattern + r"[ _]*(?P<unit>[A-Za-z]*)[ _]*", argument)
    if weight is None or (weight["unit"] and weight["unit"].lower() not in UG_PER_UNIT):
        return None
    return weight["minus"] + weight["digits"], weight["unit"]


def encode_information(key: str, value: str = "") -> bytes:
    """A line of information: ``encode_information("CAP", "g:500:1:1")``, ``("END")``.

    >>> encode_information("CAP", "g:500:1:1")
    b'\\nCAP:g:500:1:1\\r'
    """
    return _frame(f"{key}:{value}")


def encode_diagnosis(
    *, memory: bool = False, eeprom: bool = False, calibration: bool = False
) -> bytes:
    """The answer to D; what is true is ill."""
    return _frame(
        ("R" if memory else " ") + ("E" if eeprom else " ") + ("C " if calibration else "  ")
    )
