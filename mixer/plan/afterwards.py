"""How full a layup can be, by what was mixed for it and what was left and wiped off. Pure.

A balance tells how much epoxy can be in the cloth, not where: so the answer is a range, its
least and its most, and never that the cloth is wetted. This file must never narrow a range by
what nobody weighed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.science.laminate import resin_fraction

Span = tuple[float, float]
"""The least and the most, in grams where nothing else is said."""

#: Two weighings of cloth that differ by less may be of one kit (our choice: a frayed edge).
SAME = 0.02


@dataclass(frozen=True, slots=True)
class KitPart:
    """A kit as one batch was sized by it. ``tag`` is what tells it from others, empty where it
    had none; ``off`` by how much of it its weight may differ; ``part`` how much of it the batch
    was for, from above 0 to 1."""

    tag: str
    cloth_g: float
    off: float
    part: Span


@dataclass(frozen=True, slots=True)
class Cloth:
    """``laid_g`` is the dry cloth of all batches; ``to_come_g`` what of it no batch may have
    been for yet."""

    laid_g: Span
    to_come_g: float


@dataclass(frozen=True, slots=True)
class Share:
    """So much mix of one cup. ``left_g`` is what was weighed of it in the cup, None where nobody
    said; ``used_up``: nothing but what clings to cup and brush. ``elsewhere``: filler went in,
    or it was split off: none of it is in the cloth."""

    most_g: float
    known: bool = True
    left_g: float | None = None
    used_up: bool = False
    elsewhere: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """``resin_g`` is what can be in the cloth, ``fraction`` that of the laminate by weight."""

    resin_g: Span
    fraction: Span


def cloth_of(kits: Sequence[KitPart]) -> Cloth:
    """The kits of all batches, each counted once. One with a tag is one kit; without, what weighs
    the same is as many kits as its parts come to.

    >>> cloth_of([KitPart("", 200, 0, (0.5, 0.5)), KitPart("", 200, 0, (0.5, 0.5))])
    Cloth(laid_g=(200.0, 200.0), to_come_g=0.0)
    >>> cloth_of([KitPart("1-2", 200, 0.5, (0.5, 0.5))]).laid_g
    (50.0, 300.0)
    """
    each: list[list[KitPart]] = []
    for kit in kits:
        same = (
            one
            for one in each
            if one[0].tag == kit.tag
            and (kit.tag or abs(one[0].cloth_g - kit.cloth_g) <= SAME * kit.cloth_g)
        )
        if (found := next(same, None)) is not None:
            found.append(kit)
        else:
            each.append([kit])
    low = high = to_come = 0.0
    for one in each:
        cloth_g = math.fsum(kit.cloth_g for kit in one) / len(one)
        least, most = (math.fsum(kit.part[end] for kit in one) for end in (0, 1))
        # Parts are told to four places: three thirds are a whole.
        many = 1 if one[0].tag else max(1, math.ceil(most - 0.01))
        sure = min(many, math.floor(least + 0.01)) or least
        off = max(kit.off for kit in one)
        low += cloth_g * sure * (1 - off)
        high += cloth_g * many * (1 + off)
        to_come += 0.0 if sure == many else cloth_g * (many - least)
    return Cloth((low, high), to_come)


def laid_g(whole_g: float, cups: tuple[Share, ...], lost: Span) -> Span:
    """What of one batch went upon the cloth.

    Parameters
    ----------
    whole_g : all that was in the cup, without what was taken out again.
    cups : its cups; none where nobody knows what became of it.
    lost : the part of what is mixed that stays in cup and brush.

    >>> laid_g(100, (Share(100, left_g=9),), (0.02, 0.08))
    (83.0, 91)
    >>> laid_g(100, (Share(100, used_up=True),), (0.02, 0.08))
    (92.0, 98.0)
    >>> laid_g(100, (), (0.02, 0.08))
    (0.0, 100)
    """
    least = most = whole_g
    if not cups:
        least = 0.0
    for cup in cups:
        if cup.elsewhere:
            least -= cup.most_g
            most -= cup.most_g if cup.known else 0.0
        elif cup.left_g is not None:
            least -= cup.left_g + lost[1] * cup.most_g
            most -= cup.left_g
        elif cup.used_up:
            least -= lost[1] * cup.most_g
            most -= lost[0] * cup.most_g if cup.known else 0.0
        else:
            least -= cup.most_g
    return max(0.0, least), max(0.0, most)


def balance(cloth_g: Span, laid: Span, wiped_g: Span | None, elsewhere_g: Span | None) -> Balance:
    """What can be in the cloth.

    Parameters
    ----------
    cloth_g : the dry cloth, above 0.
    laid : what of all its batches went upon the layup.
    wiped_g : what was wiped or squeegeed off, None where nobody weighed it.
    elsewhere_g : what core, joints and peel ply took of it; None where that is not known.
        Without either figure the least is nothing.

    References
    ----------
    .. [1] ASTM D3171, method II, for the fraction from the two weights.

    >>> two = balance((700, 740), (700, 720), (200, 200), (0, 20))
    >>> two.resin_g, [round(part, 3) for part in two.fraction]
    ((480, 520), [0.393, 0.426])
    """
    wiped, took = wiped_g or (0.0, 0.0), elsewhere_g or (0.0, 0.0)
    known = wiped_g is not None and elsewhere_g is not None
    least = max(0.0, laid[0] - wiped[1] - took[1]) if known else 0.0
    most = max(least, laid[1] - wiped[0] - took[0])
    low, high = cloth_g[1], cloth_g[0]
    return Balance(
        (least, most), (resin_fraction(low, low + least), resin_fraction(high, high + most))
    )
