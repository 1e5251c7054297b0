"""From the load on the pan to the figure on the display.

Load cell noise, two filters of first order, rounding to the division, the word that
the figure is still, capacity, and the zero, tare and unit keys. Pure: time comes in
as numbers of ticks, noise from a seed.

The filters are linear, so what they make of the load and what they make of the noise
is kept apart and added: the load goes through tick by tick, the noise by its exact
law from one reading to the next, so that its standard deviation on the display is
the repeatability whatever the filter (repeatability is a property of indications:
OIML R 76-1, T.4.3, quoted from memory).
"""

from __future__ import annotations

import math
import random
from collections import deque
from dataclasses import dataclass
from functools import cache

from devices.sim.stream import number

#: Units that the unit key goes through: grams in one, and divisions of one for a
#: division of a gram. Exact: the avoirdupois ounce.
UNITS: dict[str, tuple[float, float]] = {"g": (1.0, 1.0), "oz": (28.349523125, 0.05)}
#: The zero key works within this part of capacity around the first zero (OIML R 76-1,
#: 4.5.1: the effect of zero-setting is at most 4 % of capacity, so 2 % either way).
ZERO_RANGE = 0.02
#: Over capacity begins nine divisions above it (OIML R 76-1, 4.2.3).
OVER_DIVISIONS = 9
#: Zero tracking moves at most half a division a second (OIML R 76-1, 4.5.7).
TRACKING_DIVISIONS_S = 0.5
#: This many readings within one division are still.
STILL_READINGS = 8


@dataclass(frozen=True, slots=True)
class ScaleSettings:
    """What kind of scale it is. Masses in grams, times in seconds.

    ``repeatability_g`` is the standard deviation of the figure before rounding; half a
    division when not given. ``filter_s`` is the time constant of each of two filters.
    Above ``fine_to_g`` on the pan it counts by ``coarse_g``, a multiple of its division, and
    shows as many decimals as before; it says in which range it is if it ``tells_range``.
    """

    division_g: float = 0.1
    readings_per_s: float = 10.0
    repeatability_g: float | None = None
    filter_s: float = 0.15
    capacity_g: float = 2000.0
    zero_tracking: bool = False
    fine_to_g: float | None = None
    coarse_g: float = 1.0
    tells_range: bool = True

    def __post_init__(self) -> None:
        for name in ("division_g", "readings_per_s", "capacity_g"):
            if number(getattr(self, name), name) <= 0:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be above zero")
        for name in ("filter_s", "repeatability_g"):
            value = getattr(self, name)
            if value is not None and number(value, name) < 0:
                raise ValueError(f"{name} is {value}; it must not be below zero")
        if self.fine_to_g is not None:
            if number(self.fine_to_g, "fine_to_g") <= 0:
                raise ValueError(f"fine_to_g is {self.fine_to_g}; it must be above zero")
            steps = number(self.coarse_g, "coarse_g") / self.division_g
            if round(steps) < 2 or not math.isclose(steps, round(steps)):
                raise ValueError(f"coarse_g is {self.coarse_g}; it must be divisions, two or more")

    def divisions(self, gross_g: float) -> int:
        """By how many divisions it counts with this on the pan.

        >>> two = ScaleSettings(fine_to_g=50.0, coarse_g=0.5)
        >>> two.divisions(49.0), two.divisions(51.0)
        (1, 5)
        """
        coarse = self.fine_to_g is not None and gross_g > self.fine_to_g
        return max(1, round(self.coarse_g / self.division_g)) if coarse else 1

    @property
    def noise_g(self) -> float:
        """Standard deviation of the figure before rounding, in grams."""
        return self.division_g / 2 if self.repeatability_g is None else self.repeatability_g


@dataclass(frozen=True, slots=True)
class Display:
    """What the scale shows from ``at_s`` on: ``count`` divisions of ``division`` ``unit``.

    >>> Display(at_s=1.0, count=561, division=0.1, unit="g", still=True).figure
    '56.1'
    """

    at_s: float
    count: int
    division: float
    unit: str
    still: bool
    tared: bool = False
    over: bool = False
    under: bool = False
    at_zero: bool = False
    weighing_range: int = 1

    @property
    def decimals(self) -> int:
        """Digits after the point: enough for one division, six at the most."""
        return _decimals(self.division)

    @property
    def value(self) -> float:
        """The figure as a number, in ``unit``."""
        return round(self.count * self.division, self.decimals)

    @property
    def figure(self) -> str:
        """The figure as the scale writes it."""
        return f"{self.value:.{self.decimals}f}"


@cache
def _decimals(division: float) -> int:
    exact = (n for n in range(6) if math.isclose(division, round(division, n)))
    return next(exact, 6)


class Indicator:
    """The electronics of the scale."""

    def __init__(self, settings: ScaleSettings, seed: int, tick_s: float) -> None:
        self.settings = settings
        self._tick_s = tick_s
        self._random = random.Random(f"{seed}/noise")
        self._fade: dict[int, tuple[float, float]] = {}
        self._step = self._noise_step()
        first, second = self._random.gauss(0, 1), self._random.gauss(0, 1)
        self._noise = ((first + second) * settings.noise_g, first * settings.noise_g)
        self.wake(0.0)

    def wake(self, load_g: float) -> None:
        """Switch on: whatever is on the pan now is zero."""
        self._first = self._second = self._zero_g = self._first_zero_g = load_g
        self._tare_g = 0.0
        self.unit = "g"
        self._last: deque[int] = deque(maxlen=STILL_READINGS)

    def feed(self, load_g: float, ticks: int = 1) -> None:
        """Let ``load_g`` rest on the pan for this many ticks."""
        if ticks not in self._fade:
            self._fade[ticks] = self._fades(ticks)
        fade, ramp = self._fade[ticks]
        first, second = self._first - load_g, self._second - load_g
        self._first = load_g + first * fade
        self._second = load_g + second * fade + first * ramp

    def read(self, at_s: float) -> Display:
        """The next reading, due one reading interval after the one before."""
        keep, ramp, one, both, two = self._step
        kick, other = self._random.gauss(0, 1), self._random.gauss(0, 1)
        first, second = self._noise
        self._noise = (
            first * keep + one * kick,
            second * keep + first * ramp + both * kick + two * other,
        )
        if self._tracks():
            self._zero_g += self._tracking_step_g()
        self._last.append(self._count())
        return self.show(at_s)

    def show(self, at_s: float) -> Display:
        """What stands on the display now, without waiting for the next reading."""
        settings, last, gross_g = self.settings, self._last, self.gross_g
        steps = settings.divisions(gross_g)
        return Display(
            at_s=at_s,
            count=self._count(),
            division=settings.division_g * UNITS[self.unit][1],
            unit=self.unit,
            still=len(last) == STILL_READINGS and max(last) - min(last) <= steps,
            tared=bool(self._tare_g),
            over=gross_g > settings.capacity_g + OVER_DIVISIONS * settings.division_g,
            under=gross_g < -settings.capacity_g / 10,
            at_zero=abs(gross_g) <= settings.division_g / 4,
            weighing_range=2 if steps > 1 and settings.tells_range else 1,
        )

    def _count(self) -> int:
        grams, per_gram = UNITS[self.unit]
        steps = self.settings.divisions(self.gross_g)
        step = grams * per_gram * self.settings.division_g * steps
        return round((self.gross_g - self._tare_g) / step) * steps

    @property
    def gross_g(self) -> float:
        """The figure above zero before tare and rounding, in grams."""
        return self._second + self._noise[1] - self._zero_g

    @property
    def tare_g(self) -> float:
        """The tare that the scale subtracts, in grams; zero when none."""
        return self._tare_g

    def zero(self) -> bool:
        """The zero key: false, and nothing done, too far from the first zero."""
        here_g = self._second + self._noise[1]
        if abs(here_g - self._first_zero_g) > ZERO_RANGE * self.settings.capacity_g:
            return False
        self._zero_g, self._tare_g = here_g, 0.0
        self._last.clear()
        return True

    def tare(self, mass_g: float | None = None) -> bool:
        """The tare key, or a tare by its mass: false, and nothing done, below zero."""
        tare_g = self.gross_g if mass_g is None else mass_g
        if not -self.settings.division_g <= tare_g <= self.settings.capacity_g:
            return False
        self._tare_g = tare_g
        self._last.clear()
        return True

    def clear_tare(self) -> None:
        """Show gross again."""
        self._tare_g = 0.0
        self._last.clear()

    def next_unit(self) -> None:
        """The unit key."""
        names = list(UNITS)
        self.unit = names[(names.index(self.unit) + 1) % len(names)]
        self._last.clear()

    def _tracks(self) -> bool:
        """Zero tracking, where the scale has it, pulls a steady figure near zero to zero."""
        return (
            self.settings.zero_tracking
            and not self._tare_g
            and len(self._last) == STILL_READINGS
            and abs(self.gross_g) <= self.settings.division_g / 2
        )

    def _tracking_step_g(self) -> float:
        most_g = TRACKING_DIVISIONS_S * self.settings.division_g / self.settings.readings_per_s
        return max(-most_g, min(most_g, self.gross_g))

    def _fades(self, ticks: float) -> tuple[float, float]:
        """What is left of a difference after these ticks, in each filter, and passed on."""
        if not self.settings.filter_s:
            return 0.0, 0.0
        time = ticks * self._tick_s / self.settings.filter_s
        return math.exp(-time), time * math.exp(-time)

    def _noise_step(self) -> tuple[float, float, float, float, float]:
        """How the filtered noise goes on over one reading: F, and the root of Q.

        White noise through both filters has the stationary covariance
        ``P = s^2 [[2, 1], [1, 1]]`` when the second one's standard deviation is ``s``;
        then ``Q = P - F P F^T``, and the root is Cholesky's.
        """
        interval_s = 1 / self.settings.readings_per_s
        keep, ramp = self._fades(interval_s / self._tick_s)
        variance = self.settings.noise_g**2
        q11 = variance * 2 * (1 - keep * keep)
        q12 = variance * (1 - keep * (2 * ramp + keep))
        q22 = variance * (1 - (2 * ramp * ramp + 2 * ramp * keep + keep * keep))
        one = math.sqrt(q11)
        both = q12 / one if one else 0.0
        return keep, ramp, one, both, math.sqrt(max(0.0, q22 - both * both))
