"""The simulated scale's side of the line: it answers an SMA host for the plant.

Pure: bytes in, bytes out; what the line carries between is the server's affair. It
answers only what the display shows, never the plant's truth, and fails as the plant
says it fails.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Literal

from devices.dialects import sma
from devices.readings import UG_PER_UNIT
from devices.sim.indicator import UNITS, Display
from devices.sim.plant import Plant

#: What a scale with a loose plug sends: right length, wrong everything.
NONSENSE = b"\n~#1 5%\x00\xff Q 1.2.3 xyz\r"
ABOUT = (("SMA", "2/1.0"), ("MFG", "simulated bench"), ("MOD", "plant"), ("END", ""))


class SmaScale:
    """Answers ``W P R T C Z I N D A B`` and ESC out of one plant.

    >>> from devices.sim.indicator import ScaleSettings
    >>> SmaScale(Plant(scale=ScaleSettings(repeatability_g=0.0))).answer(b"\\nW\\r")
    b'\\nZ1GM        0.0g  \\r'
    """

    def __init__(self, plant: Plant) -> None:
        self._plant = plant
        self._reader = sma.CommandReader()
        self._repeating = False
        self._awaiting_still = False
        self._lines: list[bytes] = []  # of information, still to be asked for

    def answer(self, data: bytes) -> bytes:
        """What the scale sends at once for these bytes of the host."""
        commands = self._reader.feed(data)
        if self._plant.failure in ("silent", "restart"):
            self._repeating = self._awaiting_still = False
            return b""
        if self._plant.failure == "nonsense":
            return NONSENSE * len(commands)
        return b"".join(self._obey(command) for command in commands)

    def due(self, shown: Iterable[Display]) -> bytes:
        """What the scale sends of its own accord for these new readings (R, and P)."""
        sent = b""
        for display in shown:
            if self._plant.failure in ("silent", "restart"):
                self._repeating = self._awaiting_still = False
            elif self._repeating:
                nonsense = self._plant.failure == "nonsense"
                sent += NONSENSE if nonsense else self._weight(display)
            elif self._awaiting_still and display.still:
                self._awaiting_still = False
                sent += self._weight(display)
        return sent

    def _obey(self, command: sma.Command) -> bytes:
        self._repeating = self._awaiting_still = False
        if command.damaged:
            return sma.DAMAGED
        name, argument, indicator = command.name, command.argument, self._plant.scale
        if name == "T" and argument:
            return self._set_tare(argument)
        if argument:
            return sma.UNKNOWN
        if name == "W":
            return self._weight(self._plant.display)
        if name == "P":
            self._awaiting_still = not self._plant.display.still
            return b"" if self._awaiting_still else self._weight(self._plant.display)
        if name == "R":
            self._repeating = True
            return self._weight(self._plant.display)
        if name == "Z":
            return self._changed(indicator.zero(), "E")
        if name == "T":
            return self._changed(indicator.tare(), "T")
        if name == "C":
            indicator.clear_tare()
            return self._changed(True, "T")
        if name == "D":
            return sma.encode_diagnosis()
        if name in ("I", "A"):
            lines = self._information() if name == "I" else ABOUT
            first, *self._lines = [sma.encode_information(*line) for line in lines]
            return first
        if name in ("N", "B") and self._lines:
            return self._lines.pop(0)
        return b"" if name == "\x1b" else sma.UNKNOWN

    def _information(self) -> list[tuple[str, str]]:
        display, settings = self._plant.display, self._plant.scale.settings
        step = round(display.division * 10**display.decimals)
        to_g = {1: settings.capacity_g}
        if settings.fine_to_g is not None:  # a line for each range
            coarse = settings.divisions(settings.capacity_g)
            to_g = {1: settings.fine_to_g, coarse: settings.capacity_g}
        unit, decimals, per_unit = display.unit, display.decimals, UNITS[display.unit][0]
        return [
            ("SMA", "2/1.0"),
            ("TYP", "S"),
            *(
                ("CAP", f"{unit}:{int(g / per_unit)}:{k * step}:{decimals}")
                for k, g in to_g.items()
            ),
            ("CMD", "PRTC"),
            ("END", ""),
        ]

    def _set_tare(self, argument: str) -> bytes:
        tare = sma.decode_tare(argument)
        if tare is None:
            return sma.DAMAGED
        unit = (tare[1] or self._plant.display.unit).lower()
        mass_g = float(Decimal(tare[0]) * UG_PER_UNIT[unit] / UG_PER_UNIT["g"])
        return self._changed(self._plant.scale.tare(mass_g), "T")

    def _changed(self, done: bool, trouble: Literal["E", "T"]) -> bytes:
        """The weight after a key that was sent, or the scale's word that it would not."""
        display = self._plant.show_again()
        if done:
            return self._weight(display)
        unit = self._plant.display.unit
        return sma.encode_weight(sma.Weight(sma.DASHES, unit, status=trouble))

    def _weight(self, display: Display) -> bytes:
        status: Literal["O", "U", "Z", " "] = " "
        if display.over or self._plant.failure == "overload":
            status = "O"
        elif display.under:
            status = "U"
        elif display.at_zero:
            status = "Z"
        return sma.encode_weight(
            sma.Weight(
                display.figure,
                display.unit,
                status=status,
                net="N" if display.tared else "G",
                moving=not display.still,
                range=str(display.weighing_range),
            )
        )
