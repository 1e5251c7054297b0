"""A person with a jug in one hand, who sees a cue late and acts on it.

Pure: time comes in as data, chance from a seed, and what the person does goes out as
plain mappings such as a simulated bench takes. It knows of no scale and no pour: it
sees what anybody at the bench sees, a cue, a name and a figure, and never the truth.
It must never be kinder than the table it stands for.

Theory of operation. What is shown comes down to one *intention*: put the cup, lift it,
zero the empty scale, pour this jug, ease this jug, hold everything shut, press the key.
A new intention is acted on after a reaction time drawn anew; a newer one takes its
place before that, at the price of its own reaction time. Two cues that mean the same to
the hand (``stop``, then ``wait``) are one intention: a hand that is about to shut a jug
is not put off by being told again. While a jug is open the hand follows the figure as it
stood one reaction time ago.
"""

from __future__ import annotations

import random
from collections import deque
from dataclasses import dataclass

#: A hand does not correct a stream by less than this part of it (our choice).
FINEST_CHANGE = 0.05
#: A key that brought nothing is pressed again after this time (our choice).
PRESS_AGAIN_S = 3.0
#: Zero is pressed once the display has come to rest: after this time (our choice).
UNTIL_RESTED_S = 1.5

Action = dict[str, object]


@dataclass(frozen=True, slots=True)
class Pouring:
    """How fast one material leaves the jug, and how it drips after closing."""

    fastest_g_s: float
    drip_g: float
    drip_s: float


@dataclass(frozen=True, slots=True)
class Hand:
    """One row of habits. Times in seconds, masses in grams, streams in grams a second.

    Reaction times are of the order found for simple visual reaction (memory); the rest
    is invented and fixed, so that pours can be compared.
    """

    reaction_s: float
    reaction_sd_s: float
    reaction_floor_s: float
    opening_s: float
    closing_s: float
    fall_s: float
    warm: Pouring
    cold: Pouring
    slow_below_g: float  # slows down when the figure left is below this,
    slow_per_s: float  # to this part of it a second,
    slowest_g_s: float  # but never under this
    ease_g_s: tuple[float, float]
    flutter: float = 0.05

    def stream(self, warm: bool = True) -> Pouring:
        """Warm and thin, or cold and thick.

        >>> CAREFUL.stream(warm=False).fastest_g_s
        3.0
        """
        return self.warm if warm else self.cold

    def jug(self, name: str, warm: bool = True) -> Action:
        """The jug in this hand, as a simulated bench wants it described.

        >>> CARELESS.jug("resin")["drip_g"]
        0.2
        """
        pouring = self.stream(warm)
        return {
            "name": name,
            "opening_s": self.opening_s,
            "closing_s": self.closing_s,
            "fall_s": self.fall_s,
            "drip_g": pouring.drip_g,
            "drip_s": pouring.drip_s,
            "flutter": self.flutter,
        }

    def rate_g_s(self, left_g: float | None, warm: bool = True) -> float:
        """How fast this hand pours with this much left by the figure it sees.

        >>> CAREFUL.rate_g_s(100.0), CAREFUL.rate_g_s(4.0), CAREFUL.rate_g_s(0.2)
        (8.0, 1.8, 0.35)
        """
        fastest = self.stream(warm).fastest_g_s
        if left_g is None or left_g >= self.slow_below_g:
            return fastest
        return min(fastest, max(self.slowest_g_s, self.slow_per_s * left_g))


CAREFUL = Hand(
    reaction_s=0.28,
    reaction_sd_s=0.05,
    reaction_floor_s=0.12,
    opening_s=0.25,
    closing_s=0.12,
    fall_s=0.15,
    warm=Pouring(8.0, drip_g=0.1, drip_s=1.0),
    cold=Pouring(3.0, drip_g=0.6, drip_s=8.0),
    slow_below_g=6.0,
    slow_per_s=0.45,
    slowest_g_s=0.35,
    ease_g_s=(0.5, 1.5),
)
CARELESS = Hand(
    reaction_s=0.40,
    reaction_sd_s=0.10,
    reaction_floor_s=0.12,  # nobody is faster than the careful hand at its fastest
    opening_s=0.25,
    closing_s=0.25,
    fall_s=0.20,
    warm=Pouring(12.0, drip_g=0.2, drip_s=1.0),  # twice the mass in the same time
    cold=Pouring(5.0, drip_g=1.2, drip_s=8.0),
    slow_below_g=4.0,
    slow_per_s=0.45,
    slowest_g_s=0.8,
    ease_g_s=(0.8, 2.5),
)


class Person:
    """One person at one batch.

    ``guided``: follows the cues; otherwise pours by the display, from the first
    ``pour`` or ``ease`` until the figure left is zero, whatever the cues say then.
    ``keys``: presses the program's key for going on at ``next``; the action is
    ``{"do": "press", "key": "go"}`` and is the caller's to deliver, for no scale has
    such a key. ``waits_for_drips``: presses it only once the jug has done dripping.
    """

    def __init__(
        self,
        hand: Hand,
        seed: int,
        cup_mass_g: float,
        guided: bool = True,
        *,
        warm: bool = True,
        keys: bool = False,
        waits_for_drips: bool = True,
    ) -> None:
        self.hand = hand
        self._random = random.Random(f"{seed}/hand")
        self._cup_mass_g = cup_mass_g
        self._guided, self._warm, self._keys = guided, warm, keys
        self._waits_for_drips = waits_for_drips
        self._meant = ("", "")  # the newest intention: what, and which jug
        self._act_at_s: float | None = None  # when it will be acted on; None: done
        self._doing = ("", "")  # the intention that the hand is carrying out
        self._reaction_s = hand.reaction_s
        self._figures: deque[tuple[float, float | None]] = deque()  # each, since it is seen
        self._next_move = "cup"  # of the cup: cup, lift or return
        self._open = ""  # the jug that pours
        self._rate_g_s = 0.0
        self._drips_until_s = 0.0
        self._press_at_s: float | None = None  # the key for going on
        self._zero_at_s: float | None = None  # the scale's key
        self._by_display = ("", False)  # jug, and whether its figure has reached zero

    def has_put_cup(self) -> None:
        """There is a cup on the pan already."""
        self._next_move = "lift"

    def step(self, t_s: float, cue: str, component: str, left_g: float | None) -> list[Action]:
        """What the person does at ``t_s``, seeing this. Call often: 20 times a second.

        >>> person = Person(CAREFUL, seed=1, cup_mass_g=12.0)
        >>> person.step(0.0, "place", "", None), person.step(1.0, "place", "", None)
        ([], [{'do': 'cup', 'mass_g': 12.0}])
        """
        meant = self._intention(cue, component, left_g)
        if meant != self._meant:
            self._meant = meant
            self._reaction_s = self._draw_reaction_s()
            self._act_at_s = t_s + self._reaction_s
        figures = self._figures
        if not figures or left_g != figures[-1][1]:
            figures.append((t_s, left_g))
        while len(figures) > 1 and figures[1][0] <= t_s - self._reaction_s:
            figures.popleft()
        actions: list[Action] = []
        if self._act_at_s is not None and t_s >= self._act_at_s:
            self._act_at_s = None
            self._doing = meant
            actions += self._begin(t_s)
        if self._doing == ("pour", component):
            actions += self._tilt(t_s, self._seen_rate_g_s())
        pressing = self._press_at_s is not None and t_s >= self._press_at_s
        if pressing and meant[0] == "press":
            self._press_at_s = t_s + PRESS_AGAIN_S
            actions.append({"do": "press", "key": "go"})
        if self._zero_at_s is not None and t_s >= self._zero_at_s and meant[0] == "clear":
            self._zero_at_s = None
            actions.append({"do": "press", "key": "zero"})
        return actions

    def _intention(self, cue: str, component: str, left_g: float | None) -> tuple[str, str]:
        if cue == "place" or (cue in ("lift", "clear") and self._guided):
            return cue, ""
        if cue == "next":
            return ("press", "") if self._keys else ("shut", "")
        if cue in ("stir", "go") or not component:
            return "shut", ""
        if not self._guided:
            return self._intention_by_display(cue, component, left_g)
        if cue == "trickle":  # slowly, by the figure: as it pours whatever is little
            return "pour", component
        return (cue, component) if cue in ("pour", "ease") else ("shut", "")

    def _intention_by_display(
        self, cue: str, component: str, left_g: float | None
    ) -> tuple[str, str]:
        jug, full = self._by_display
        if jug != component:
            if cue not in ("pour", "ease", "trickle"):
                return "shut", ""
            full = False
        # Once full it stays so: a last digit that flickers back opens no jug again.
        full = full or (left_g is not None and left_g <= 0)
        self._by_display = (component, full)
        return ("shut", "") if full else ("pour", component)

    def _begin(self, t_s: float) -> list[Action]:
        what, jug = self._doing
        actions: list[Action] = []
        self._press_at_s = self._zero_at_s = None
        if self._open and self._open != jug:
            actions += self._tilt(t_s, 0.0)
        if what == "place" and self._next_move == "cup":
            actions.append({"do": "cup", "mass_g": self._cup_mass_g})
            self._next_move = "lift"
        elif what == "place" and self._next_move == "return":
            actions.append({"do": "return"})
            self._next_move = "lift"
        elif what == "lift" and self._next_move == "lift":
            actions.append({"do": "lift"})
            self._next_move = "return"
        elif what == "clear" and self._next_move != "lift":
            self._zero_at_s = t_s + UNTIL_RESTED_S
        elif what == "press":
            self._press_at_s = max(t_s, self._drips_until_s if self._waits_for_drips else t_s)
        elif what == "ease":
            actions += self._tilt(t_s, self._random.uniform(*self.hand.ease_g_s))
        return actions

    def _tilt(self, t_s: float, rate_g_s: float) -> list[Action]:
        jug = self._open or self._doing[1]
        change = abs(rate_g_s - self._rate_g_s)
        if not jug or (rate_g_s and change <= FINEST_CHANGE * self._rate_g_s):
            return []
        self._rate_g_s = rate_g_s
        self._open = jug if rate_g_s else ""
        if not rate_g_s:
            self._drips_until_s = t_s + self.hand.stream(self._warm).drip_s + self.hand.fall_s
        return [{"do": "pour", "jug": jug, "rate_g_s": rate_g_s}]

    def _seen_rate_g_s(self) -> float:
        return self.hand.rate_g_s(self._figures[0][1], self._warm)

    def _draw_reaction_s(self) -> float:
        hand = self.hand
        return max(hand.reaction_floor_s, self._random.gauss(hand.reaction_s, hand.reaction_sd_s))
