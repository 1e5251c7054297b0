"""The weight trace: what the scale showed, reading by reading, in compressed blocks.

Pure. It is evidence beside the facts, not one of them: nothing is decided from it but
where a pour that was cut off had got to. A block is zlib over lines of text, one for a
reading: milliseconds of the age clock and micrograms as displayed, each counted from the
line before, ``s`` where the scale called it still, and the scale's own figure, with tabs
between. So it can be read in ten years without this program. Blocks of a batch are
chained as facts are.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.record.envelope import RecordError, chained


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading. ``at_ms`` is of the age clock; ``mass_ug`` as the scale displayed it."""

    at_ms: int
    mass_ug: int
    text: str
    still: bool


def pack(samples: Sequence[Sample]) -> bytes:
    """One block of these readings.

    >>> block = pack([Sample(1200, 56_100_000, "56.1 g", True)])
    >>> unpack(block)
    (Sample(at_ms=1200, mass_ug=56100000, text='56.1 g', still=True),)
    """
    before = (Sample(0, 0, "", False), *samples)
    lines = (
        f"{s.at_ms - b.at_ms}\t{s.mass_ug - b.mass_ug}\t{'s' if s.still else ''}\t{_plain(s.text)}"
        for b, s in zip(before, samples, strict=False)
    )
    return zlib.compress("\n".join(lines).encode(), 9)


def unpack(block: bytes) -> tuple[Sample, ...]:
    """The readings of a block; what is none is a :class:`RecordError`."""
    try:
        lines = zlib.decompress(block).decode().split("\n")
        samples: list[Sample] = []
        for line in filter(None, lines):
            samples.append(_sample(line, samples[-1] if samples else Sample(0, 0, "", False)))
        return tuple(samples)
    except (zlib.error, ValueError) as err:
        raise RecordError(f"A block of the weight trace cannot be read: {err}.") from None


def count(block: bytes) -> int:
    """How many readings are in a block, without reading them.

    >>> count(pack([Sample(1200, 56_100_000, "56.1 g", True)] * 3))
    3
    """
    try:
        return len(list(filter(None, zlib.decompress(block).split(b"\n"))))
    except zlib.error as err:
        raise RecordError(f"A block of the weight trace cannot be read: {err}.") from None


def sealed(prev: bytes, batch: int, boot: str, block: bytes) -> bytes:
    """The hash of a block; ``prev`` is that of the batch's block before it, or genesis."""
    return chained(prev, before_block(batch, boot) + block)


def before_block(batch: int, boot: str) -> bytes:
    """What is sealed before the bytes of each block."""
    return f"{batch}\n{boot}\n".encode()


def _plain(text: str) -> str:
    return " ".join(text.split())


def _sample(line: str, before: Sample) -> Sample:
    at_ms, mass_ug, still, text = line.split("\t")
    return Sample(before.at_ms + int(at_ms), before.mass_ug + int(mass_ug), text, still == "s")
