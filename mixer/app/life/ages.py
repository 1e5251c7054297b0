"""How long ago something was: across sleep, a power cut, and clocks that were set.

Pure. Within one boot the age clock counts, whatever happens to UTC, and UTC beside it, as
the age clock of some systems stands still in their sleep. From one boot to another UTC has
to do, but an age is never younger than what is proven: the time that passed in the old boot
after it, and this boot's own. Where the two disagree the older age is taken and said, for
too old an age is a nuisance and too young a one is a hazard.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from mixer.record.views import Moment

JUMP_S = 60.0  # as much as this is no correction by a time server
BACK = "ages are counted without it"
FORWARD = "whatever is live is taken to be as much older"


def since_ms(then: Moment, now: Moment) -> int:
    """From then to now in milliseconds; the older age of the two.

    >>> cut = Moment("2024-05-01T08:00:00.000Z", 900_000, "b1")
    >>> since_ms(cut, Moment("2024-05-01T08:10:00.000Z", 30_000, "b2"))
    600000
    >>> since_ms(cut, Moment("2024-05-01T06:00:00.000Z", 30_000, "b2"))
    30000
    """
    by_clock = now.at_ms - then.at_ms if _counted_on(then, now) else _uptime_ms(then.boot, now)
    return max(0, by_clock, _by_utc_ms(then, now))


class Age(NamedTuple):
    """``set_back``: UTC has been set back since. ``at_least``: so that it may be older."""

    ms: int
    set_back: bool
    at_least: bool


def age_ms(then: Moment, later: Iterable[Moment], now: Moment) -> Age:
    """The same, where ``later`` moments are known to lie between, in their order; and what is
    to be said of it.

    >>> then, later = Moment("2024-05-01T08:00:00.000Z", 0, "b1"), [
    ...     Moment("2024-05-01T09:00:00.000Z", 3_600_000, "b1"),
    ...     Moment("2024-05-01T09:30:00.000Z", 600_000, "b2"),
    ... ]
    >>> age_ms(then, later, Moment("2024-04-30T06:00:00.000Z", 30_000, "b3"))
    Age(ms=5430000, set_back=True, at_least=True)
    """
    rebased = Rebased([then], now, after=[one for one in later if is_time(one.utc)])
    age = now.at_ms - rebased.at_ms(then.boot, then.at_ms)
    return Age(
        max(age, since_ms(then, now)), rebased.set_back, rebased.at_least_until_ms is not None
    )


class Rebased:
    """The facts of one batch on the age clock of this boot.

    ``moments`` are those of its facts, in their order; ``traced`` is a boot, and until when
    its trace shows that it ran; ``after`` are moments of other facts since. Durations within
    a boot are kept; what lies between two boots is the longest that any two facts, or one
    and now, make it by UTC, and what is proven where that is less.
    """

    def __init__(
        self,
        moments: Iterable[Moment],
        now: Moment,
        traced: tuple[str, int] = ("", 0),
        after: Iterable[Moment] = (),
    ) -> None:
        own = list(moments)
        stretches: dict[str, list[Moment]] = {}
        for moment in (*own, *after):
            stretches.setdefault(moment.boot, []).append(moment)
        self.now, self._traced = now, traced
        self.since_last_ms = 0
        self.set_back = False  # UTC is behind what the record has seen, with nothing to say why
        self.at_least_until_ms: int | None = None  # what was before it may be older than it seems
        self._shift_ms: dict[str, int] = {}
        later = [now]
        for stretch in reversed(stretches.values()):
            self._place(stretch, later)
            later = [*stretch, *later]
        if own:
            last_ms = self._last_ms(own)
            self.since_last_ms = now.at_ms - self.at_ms(own[-1].boot, last_ms)

    def at_ms(self, boot: str, at_ms: int) -> int:
        """A time of that boot's age clock on this boot's; below zero: before it began."""
        return at_ms + self._shift_ms.get(boot, 0)

    def _last_ms(self, stretch: list[Moment]) -> int:
        last, (boot, at_ms) = stretch[-1], self._traced
        return max(last.at_ms, at_ms) if boot == last.boot else last.at_ms

    def _place(self, stretch: list[Moment], later: list[Moment]) -> None:
        now, last, last_ms = self.now, stretch[-1], self._last_ms(stretch)
        if _counted_on(last, now):
            self._shift_ms[last.boot] = 0
            by_utc = _by_utc_ms(last, now) if is_time(last.utc) else 0
            behind = by_utc < now.at_ms - last.at_ms - JUMP_S * 1000
            self.set_back |= behind and is_time(last.utc) and _lasting(now.boot)
            return
        ages = [(moment, now.at_ms - self.at_ms(moment.boot, moment.at_ms)) for moment in later]
        first, age = ages[0]  # of the boot that came after
        proven = age + _uptime_ms(last.boot, first)
        told = max(
            age + _by_utc_ms(moment, then) - (last_ms - moment.at_ms)
            for then, age in ages
            for moment in stretch
        )
        behind = told < 0 or told < proven - JUMP_S * 1000
        self.set_back |= behind and _lasting(now.boot)
        gap = max(0, proven, told)
        self._shift_ms[last.boot] = now.at_ms - gap - last_ms
        if behind and _lasting(now.boot) and self.at_least_until_ms is None:  # the newest counts
            self.at_least_until_ms = now.at_ms - gap


class ClockWatch:
    """Looks whether UTC is set while the program runs, by the age clock, which is not.

    >>> watch = ClockWatch(Moment("2024-05-01T08:00:00.000Z", 10_000, "b1"))
    >>> watch.look(Moment("2024-05-01T08:00:20.000Z", 30_000, "b1"))
    ''
    >>> watch.look(Moment("2024-05-01T06:00:30.000Z", 40_000, "b1"))
    'The computer’s clock went back by 2 h; ages are counted without it.'
    >>> watch.look(Moment("2024-05-01T06:00:40.000Z", 50_000, "b1"))
    ''
    >>> watch.look(Moment("2024-05-01T08:00:50.000Z", 60_000, "b1"))
    'The computer’s clock went forward by 2 h; whatever is live is taken to be as much older.'
    """

    def __init__(self, now: Moment) -> None:
        self._last = now

    def look(self, now: Moment) -> str:
        """A sentence, once, where UTC has jumped; else empty."""
        jump_s = (_by_utc_ms(self._last, now) - (now.at_ms - self._last.at_ms)) / 1000
        if abs(jump_s) <= JUMP_S:
            return ""
        self._last = now
        way, counted = ("forward", FORWARD) if jump_s > 0 else ("back", BACK)
        return f"The computer’s clock went {way} by {span(abs(jump_s))}; {counted}."


def span(seconds: float) -> str:
    """A length of time in words, as exactly as one says it.

    >>> span(8), span(200), span(7_300), span(200_000)
    ('8 s', '3 min', '2 h', '2 days')
    """
    for size, unit in ((86_400 * 2, "days"), (3600, "h"), (120, "min")):
        if seconds >= size:
            step = {"days": 86_400, "h": 3600, "min": 60}[unit]
            return f"{round(seconds / step)} {unit}"
    return f"{round(seconds)} s"


def _counted_on(then: Moment, now: Moment) -> bool:
    return then.boot == now.boot and then.at_ms <= now.at_ms


def _lasting(boot: str) -> bool:
    """Whether this names a boot of the computer, and not only one run of the program."""
    return not boot.startswith(("unknown-", "simulated-"))


def _uptime_ms(boot: str, now: Moment) -> int:
    """How long another boot has run, as far as that proves anything."""
    proves = boot != now.boot and _lasting(boot) and _lasting(now.boot)
    return now.at_ms if proves else 0


def is_time(utc: str) -> bool:
    """Whether it is one that there is.

    >>> is_time("2024-02-29T08:00:00.000Z"), is_time("2023-02-29T08:00:00.000Z")
    (True, False)
    """
    try:
        datetime.fromisoformat(utc)
    except ValueError:
        return False
    return True


def _by_utc_ms(then: Moment, now: Moment) -> int:
    """Nothing, where there is no such time."""
    if not is_time(then.utc):
        return 0
    passed = datetime.fromisoformat(now.utc) - datetime.fromisoformat(then.utc)
    return round(passed.total_seconds() * 1000)
