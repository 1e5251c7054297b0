"""What leaves a tilted jug: a stream that opens, flutters, closes, and then drips.

Pure: no clock, no input or output, and the same seed gives the same stream. It
knows nothing of the pan below; where the mass lands is the plant's affair.
"""

from __future__ import annotations

import math
import random
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, fields

#: One drop, in grams: some twenty to the millilitre (quoted from memory).
DROP_G = 0.05
#: Drips thin out: their rate falls by exp(-DRIP_DECAY) over the time they last.
DRIP_DECAY = 3.0
#: How long the flutter of a stream hangs together, in seconds (our choice).
FLUTTER_S = 0.2


@dataclass(frozen=True, slots=True)
class Jug:
    """How one jug pours, in the hand that holds it.

    ``opening_s`` and ``closing_s`` are time constants of first order, ``fall_s`` the
    way from lip to cup, ``drip_g`` the whole mass that drips in the ``drip_s``
    seconds after closing, ``flutter`` the standard deviation of the stream's speed as
    a part of it.

    >>> Jug("resin", drip_g=0.6, drip_s=8).closing_s
    0.12
    """

    name: str
    opening_s: float = 0.25
    closing_s: float = 0.12
    fall_s: float = 0.15
    drip_g: float = 0.1
    drip_s: float = 1.0
    flutter: float = 0.05

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name:
            raise ValueError(f"a jug needs a name, but got {self.name!r}")
        for field in fields(self)[1:]:
            value = number(getattr(self, field.name), f"{field.name} of the jug {self.name!r}")
            if value < 0:
                raise ValueError(f"{field.name} of the jug {self.name!r} is {value}, below zero")

    @classmethod
    def read(cls, data: object) -> Jug:
        """A jug from a mapping such as JSON gives, or a ValueError that says what is wrong.

        >>> Jug.read({"name": "resin", "fall_s": 0.2}).fall_s
        0.2
        >>> Jug.read({"name": "resin", "fal_s": 0.2})
        Traceback (most recent call last):
        ValueError: a jug has no 'fal_s'; it may have name, opening_s, closing_s, fall_s, \
drip_g, drip_s, flutter
        """
        if not isinstance(data, Mapping):
            raise ValueError(f"a jug is an object with a name, but got {data!r}")
        known = [field.name for field in fields(cls)]
        for key in data:
            if key not in known:
                raise ValueError(f"a jug has no {key!r}; it may have {', '.join(known)}")
        return cls(**{"name": "", **data})


def number(value: object, what: str) -> float:
    """``value`` as a finite float, or a ValueError that names ``what``."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError(f"{what} must be a number, but got {value!r}")
    return float(value)


class Stream:
    """The stream of one jug, stepped in short equal ticks."""

    def __init__(self, jug: Jug, seed: int, tick_s: float) -> None:
        self.jug = jug
        self._opening_s, self._closing_s = jug.opening_s, jug.closing_s
        self._flutters = jug.flutter
        self.rate_g_s = 0.0  # where the hand holds it
        self.flow_g_s = 0.0  # what leaves the lip
        self.left_g = 0.0  # all that ever left the jug
        self._tick_s = tick_s
        self._gauss = random.Random(f"{seed}/{jug.name}").gauss
        self._opening = math.exp(-tick_s / jug.opening_s) if jug.opening_s else 0.0
        self._closing = math.exp(-tick_s / jug.closing_s) if jug.closing_s else 0.0
        # Flutter is an Ornstein-Uhlenbeck process, exact from tick to tick.
        self._keep = math.exp(-tick_s / FLUTTER_S)
        self._kick = math.sqrt(1 - self._keep**2)
        self._flutter = self._gauss(0, 1)
        self._drips: deque[tuple[float, float]] = deque()  # when, grams

    @property
    def idle(self) -> bool:
        """True when nothing leaves the jug, now or later, unless the hand moves."""
        return not (self.rate_g_s or self.flow_g_s or self._drips)

    def hold_at(self, rate_g_s: float, now_s: float) -> None:
        """Tilt the jug for a stream of this many grams a second; zero closes it."""
        if rate_g_s > 0:
            self._drips.clear()  # what hung at the lip goes with the stream again
        elif self.rate_g_s > 0:
            self._drips.extend(drips(self.jug.drip_g, self.jug.drip_s, now_s))
        self.rate_g_s = rate_g_s

    def tick(self, now_s: float) -> float:
        """Grams that leave the lip in the tick that begins at ``now_s``."""
        mass_g = 0.0
        rate, flow, tick = self.rate_g_s, self.flow_g_s, self._tick_s
        if rate or flow:
            opening = rate > flow
            fade = self._opening if opening else self._closing
            lag_s = self._opening_s if opening else self._closing_s
            # The exact integral of a first-order answer over the tick.
            mass_g = rate * tick + (flow - rate) * lag_s * (1 - fade)
            flow = rate + (flow - rate) * fade
            self.flow_g_s = flow if rate or flow >= 1e-6 else 0.0
            if self._flutters:
                self._flutter = self._flutter * self._keep + self._gauss(0, self._kick)
                part = 1 + self._flutters * self._flutter
                mass_g *= part if part > 0 else 0.0
        drips_ = self._drips
        while drips_ and drips_[0][0] < now_s + tick:
            mass_g += drips_.popleft()[1]
        self.left_g += mass_g
        return mass_g


def drips(total_g: float, last_s: float, now_s: float) -> list[tuple[float, float]]:
    """When each drop leaves a jug closed at ``now_s``, and its grams.

    Drop ``k`` of ``n`` lets go when ``k / n`` of a decaying exponential, cut off and
    made whole at ``last_s``, has run to the lip: first quickly, then ever more slowly.

    >>> [(round(at, 2), g) for at, g in drips(0.1, 1.0, 0.0)]
    [(0.21, 0.05), (1.0, 0.05)]
    """
    if total_g <= 0:
        return []
    count = max(1, round(total_g / DROP_G))
    whole = 1 - math.exp(-DRIP_DECAY)
    return [
        (now_s - last_s / DRIP_DECAY * math.log(1 - whole * k / count), total_g / count)
        for k in range(1, count + 1)
    ]
