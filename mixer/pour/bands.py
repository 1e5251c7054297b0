"""How much of what comes next: targets, acceptance limits, and the verdict.

Everything follows from what is *really* in the cup, in integer micrograms. The
resin has no band but what cup and scale allow; an additive and each of several hardeners
have one of their own (:mod:`mixer.pour.single`); the sum of the hardeners is bound to the
resin by the recipe's tolerance, drawn in by a guard band that covers what the scale leaves
open about each weight (:mod:`mixer.science.weighing`), so that a weight that is accepted
conforms. Whether a scale can prove a batch at all is said here too.

Rules:

1. ``low <= net <= high`` of a called component is the one test of "in band".
2. After a component is accepted, :func:`next_call` says what is asked for next;
   ``None`` says that every ratio is in band.
3. An amount in the cup never shrinks by calculation: what is too much of one is
   answered by more of the others, or not at all.
4. What follows from a cup is kept: the same one is asked about with each reading, and to look
   ahead through all that follows takes several milliseconds where it has several bands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from mixer.pour import single
from mixer.pour.recipe import Recipe, Terms
from mixer.science import weighing
from mixer.science.weighing import Errors

#: In divisions, until the scale's own profile says it (common practice, no source): how
#: well a settled weight repeats, as a standard deviation, and how straight its line is
#: over the short way of a batch.
REPEATABILITY_DIVISIONS = 0.5
LINEARITY_DIVISIONS = 0.5
#: How far zero may lie elsewhere once the pan was emptied (OIML R 76-1:2006, 4.5.2, quoted
#: from memory: a quarter of an interval).
ZERO_DIVISIONS = 0.25

LEAST_ROOM_DIVISIONS = 2  # within the band, or nobody could hit it
#: Common practice, no source: more than twice the batch is no correction but another batch;
#: nor are all additions together, by the batch that was asked for (our choice).
MOST_TIMES = 2
MOST_STEPS = 12  # that are looked ahead; all that can be put right is by then (our choice)
KEPT = 256  # cups of which is remembered what follows (our choice)
ENOUGH = 0.97  # of the size asked for: then the first component needs no more


@dataclass(frozen=True, slots=True)
class Call:
    """What is asked for next. ``fits`` is false where cup or scale cannot take it."""

    component: int
    before_ug: int
    target_ug: int
    low_ug: int
    high_ug: int
    addition: bool
    fits: bool = True


@dataclass(frozen=True, slots=True)
class Cup:
    """What has been weighed so far: the settled amounts, and how it was weighed.

    ``poured`` says which components have been accepted at least once; ``switches``
    how often the weighing went from one component to another. ``astray_ug`` is what was
    booked to the resin and may be hardener, and what was booked to a hardener and may be
    resin: what fell between two jugs. A ratio is in band only if it is so either way.
    ``added_ug`` is what was poured in answer to an over-pour, of all that is in it.
    ``strayed_ug`` is by how much each component may be more or less than is booked to it, for
    its own band; empty: none is. ``out_ug`` is what was taken out of it again: its lot lacks
    that too. ``runs`` is how often each was poured, each time anew after another; empty: once
    each that was poured. ``heat_most_ug`` is as much as may be in it by what its heat and its
    pot life allow; ``None``: not known. It binds what puts a ratio right and what follows that.
    ``kept``: it is used as it is, so that what was never poured is asked for without room too.
    """

    terms: Terms
    tare_ug: int
    division_ug: int
    amounts_ug: tuple[int, ...]
    poured: tuple[bool, ...]
    switches: int
    astray_ug: tuple[int, int] = (0, 0)
    added_ug: int = 0
    strayed_ug: tuple[int, ...] = ()
    out_ug: tuple[int, ...] = ()
    runs: tuple[int, ...] = ()
    heat_most_ug: int | None = None
    kept: bool = False

    @property
    def resin_ug(self) -> int:
        return self.amounts_ug[0]

    @property
    def hardener_ug(self) -> int:
        return sum(self.amounts_ug[i] for i in self.terms.recipe.hardeners)

    @property
    def errors(self) -> Errors:
        """What the scale leaves open about each weight."""
        return errors_of(self.terms, self.division_ug)

    def runs_of(self, index: int) -> single.Runs:
        """How often resin and this component were weighed."""
        runs = self.runs or tuple(map(int, self.poured))
        anew = max(0, self.switches - max(0, sum(runs) - 1))
        return single.Runs(max(1, runs[0]), max(1, runs[index]), anew)

    def strayed_of(self, index: int) -> tuple[int, int]:
        """By how much resin and this component may be otherwise than is booked."""
        return (self.strayed_ug[0], self.strayed_ug[index]) if self.strayed_ug else (0, 0)

    @property
    def most_ug(self) -> int | None:
        """The most mixed epoxy that cup and scale can take, or ``None``: not known."""
        limits = [self.terms.cup_most_ug]
        if self.terms.scale_most_ug is not None:
            limits.append(self.terms.scale_most_ug - self.tare_ug)
        known = [limit for limit in limits if limit is not None]
        return min(known) if known else None

    @property
    def room_ug(self) -> float:
        """The most that may be in it once a ratio was put right: by cup, scale and heat."""
        return min(
            (m for m in (self.most_ug, self.heat_most_ug) if m is not None), default=math.inf
        )


def errors_of(terms: Terms, division_ug: int) -> Errors:
    """What a scale with this division leaves open about one weight, in micrograms."""
    told = (terms.repeatability_ug, terms.linearity_ug)
    usual = (REPEATABILITY_DIVISIONS * division_ug, LINEARITY_DIVISIONS * division_ug)
    repeatability, linearity = (u if t is None else t for t, u in zip(told, usual, strict=True))
    zero = ZERO_DIVISIONS * division_ug
    return Errors(division_ug, repeatability, linearity, zero, terms.drift_ug)


def too_heavy(terms: Terms, cup_ug: int) -> bool:
    """Whether a cup of this mass leaves no room on the scale for what is asked for."""
    return terms.scale_most_ug is not None and cup_ug + terms.size_ug > terms.scale_most_ug


def hardener_limits(
    recipe: Recipe,
    resin_ug: int,
    errors: Errors,
    switches: int,
    astray_ug: tuple[int, int] = (0, 0),
) -> tuple[int, int, bool]:
    """Acceptance limits of the hardener sum, and whether this scale can prove them.

    ``astray_ug`` as in :class:`Cup`. Where the guard band leaves less than a division
    either side of the target the limits are those of the tolerance band itself and the
    third value is false.
    """
    ideal = resin_ug * recipe.ratio
    guard = weighing.guard(errors, recipe.ratio, max(1, switches), recipe.ratios)
    to_resin, to_hardener = astray_ug
    least = (resin_ug + to_hardener) * recipe.ratio * (1 - recipe.ratio_tolerance) + to_hardener
    most = (resin_ug - to_resin) * recipe.ratio * (1 + recipe.ratio_tolerance) - to_resin
    low, high = math.ceil(least + guard), math.floor(most - guard)
    if high - low >= 2 * errors.division:
        return low, high, True
    return (
        math.ceil(ideal * (1 - recipe.ratio_tolerance)),
        math.floor(ideal * (1 + recipe.ratio_tolerance)),
        False,
    )


def resin_limits(
    recipe: Recipe,
    hardener_ug: int,
    errors: Errors,
    switches: int,
    astray_ug: tuple[int, int] = (0, 0),
) -> tuple[int, int]:
    """The same band seen from the other side: how much resin so much hardener needs."""
    ideal = hardener_ug / recipe.ratio
    low_ug = ideal / (1 + recipe.ratio_tolerance)
    high_ug = ideal / (1 - recipe.ratio_tolerance)
    guard = weighing.guard(errors, recipe.ratio, max(1, switches), recipe.ratios) / recipe.ratio
    to_resin, to_hardener = astray_ug
    least = (hardener_ug + to_resin) / recipe.ratio + guard
    most = (hardener_ug - to_hardener) / recipe.ratio - guard
    drawn = (
        math.ceil(least / (1 + recipe.ratio_tolerance) + to_resin),
        math.floor(most / (1 - recipe.ratio_tolerance) - to_hardener),
    )
    if (drawn[1] - drawn[0]) * recipe.ratio >= 2 * errors.division:
        return drawn
    return math.ceil(low_ug), math.floor(high_ug)


def smallest_provable_ug(terms: Terms, division_ug: int) -> int:
    """The smallest whole batch of which a scale with this division can prove every band."""
    recipe, errors = terms.recipe, errors_of(terms, division_ug)
    resin = weighing.smallest_provable(
        errors, recipe.ratio, recipe.ratio_tolerance, switches=len(recipe.components) - 1,
        ratios=recipe.ratios,
    )  # fmt: skip
    return math.ceil(max(resin, single.smallest_provable(recipe, errors)) / recipe.share(0))


def first_call(cup: Cup) -> Call:
    """The first component: as much as the size asks for, within what cup, scale and lots take.

    It may be less, down to what this scale can prove a ratio of; where the size itself
    is below that, what was asked for has to do.
    """
    recipe = cup.terms.recipe
    share = recipe.share(0)
    target = round(cup.terms.size_ug * share)
    most = 4 * target if cup.most_ug is None else cup.most_ug * share
    lots = (lot_most_ug(cup, i) * share / recipe.share(i) for i in range(len(recipe.components)))
    high = math.floor(min(most, *lots))
    provable = math.ceil(smallest_provable_ug(cup.terms, cup.division_ug) * share)
    low = min(round(ENOUGH * target), provable)
    return Call(0, 0, min(target, high), min(low, high), high, addition=False)


@lru_cache(maxsize=KEPT)
def next_call(cup: Cup) -> Call | None:
    """What is asked for next, or ``None`` when every ratio is in band."""
    call = _asked(cup)
    return call if call is None or not cup.poured[0] else _with_room(cup, call)


@lru_cache(maxsize=KEPT)
def _asked(cup: Cup) -> Call | None:
    """The same, whatever room there is for it."""
    recipe = cup.terms.recipe
    if not cup.poured[0]:
        return first_call(cup)
    if answers := list(_more_resin(cup)):
        return max(answers, key=lambda call: call.low_ug)  # what it is enough for suits all
    for index in range(1, len(recipe.components)):
        if not cup.poured[index]:
            return _call(cup, index)
    low, high, _ = hardener_limits(recipe, cup.resin_ug, cup.errors, cup.switches, cup.astray_ug)
    if cup.hardener_ug < low and not reached(cup.hardener_ug, low, high, cup.division_ug):
        shortest = max(recipe.hardeners, key=lambda index: (_short_ug(cup, index), index))
        return _by_steps(cup, _call(cup, shortest))
    for index in single.bound(recipe):
        own, here = own_band(cup, index), cup.amounts_ug[index]
        if here < own.low_ug and not reached(here, own.low_ug, own.high_ug, cup.division_ug):
            return _by_steps(cup, _call(cup, index))
    return None


def reached(net_ug: int, low_ug: int, high_ug: int, step_ug: int) -> bool:
    """Whether this is in band, or next to a band in which no step of the scale lies: nobody can
    be asked for less than a step. Such a band proves nothing.

    >>> reached(5, 4, 6, 1), reached(5, 6, 7, 1), reached(50, 53, 57, 10), reached(60, 53, 57, 10)
    (True, False, True, True)
    """
    if net_ug < low_ug:
        return net_ug + step_ug > high_ug
    return net_ug <= high_ug or net_ug - step_ug < low_ug


def _by_steps(cup: Cup, call: Call) -> Call:
    """An addition is one step of the scale at least."""
    least_ug = call.before_ug + cup.division_ug
    return replace(
        call,
        target_ug=max(call.target_ug, least_ug),
        low_ug=max(call.low_ug, least_ug),
        high_ug=max(call.high_ug, least_ug),
    )


def conforms(cup: Cup) -> tuple[bool, bool]:
    """Whether the weighed ratio and each single band hold, and whether this scale can prove
    all of them."""
    low, high, _ = hardener_limits(
        cup.terms.recipe, cup.resin_ug, cup.errors, cup.switches, cup.astray_ug
    )
    in_band = all(cup.poured) and reached(cup.hardener_ug, low, high, cup.division_ug)
    return in_band and all(
        reached(cup.amounts_ug[index], own.low_ug, own.high_ug, cup.division_ug)
        for index in single.bound(cup.terms.recipe)
        for own in [own_band(cup, index)]
    ), is_provable(cup)


def is_provable(cup: Cup) -> bool:
    """Whether this scale can prove the ratio and each single band of so much resin."""
    recipe = cup.terms.recipe
    of_all = hardener_limits(recipe, cup.resin_ug, cup.errors, cup.switches, cup.astray_ug)[2]
    return of_all and all(own_band(cup, index).provable for index in single.bound(recipe))


def own_band(cup: Cup, index: int, more: int = 0) -> single.Band:
    """The band of this component by itself; ``more`` weighings are still to come for it."""
    recipe, strayed = cup.terms.recipe, cup.strayed_of(index)
    runs = cup.runs_of(index)
    runs = replace(runs, own=runs.own + more)
    return single.limits(recipe, index, cup.resin_ug, cup.errors, runs, strayed)


def ratio_actual(cup: Cup) -> float | None:
    """Hardener per 100 resin as weighed; ``None`` where no resin is."""
    return 100 * cup.hardener_ug / cup.resin_ug if cup.resin_ug > 0 else None


@lru_cache(maxsize=KEPT)
def can_be_put_right(cup: Cup) -> bool:
    """Whether there is room for what is asked for next, or for the smallest in its place."""
    call = _asked(cup)
    if call is None or _is_kept(cup, call):
        return True
    few = replace(call, target_ug=_least_ug(cup, call))
    return any(
        _has_room(cup, with_all(cup, each, least=least))
        for each, least in ((call, False), (few, True), (few, False))
    )


def _with_room(cup: Cup, call: Call) -> Call:
    """The call by what there is room for, within what leaves room for the least of all that is
    to follow: who pours too much, or too little of one of several hardeners, is told so before
    the next jug is opened."""
    if _is_kept(cup, call):
        return call
    call = _as_much_as_fits(cup, call)
    if not call.fits:
        return call
    low_ug = max(call.low_ug, call.before_ug)
    least_ug = _edge_ug(cup, call, min(low_ug, call.target_ug))
    return replace(
        call,
        low_ug=least_ug if least_ug > low_ug else call.low_ug,
        high_ug=_edge_ug(cup, call, call.high_ug),
    )


def _edge_ug(cup: Cup, call: Call, edge_ug: int) -> int:
    """This limit, or as far towards it from what is asked for as leaves room."""
    if _leaves_room(cup, call, edge_ug):
        return edge_ug
    near, far = call.target_ug, edge_ug
    while abs(far - near) > max(1, cup.division_ug // 10):
        middle = (near + far) // 2
        near, far = (middle, far) if _leaves_room(cup, call, middle) else (near, middle)
    return near


def _is_kept(cup: Cup, call: Call) -> bool:
    return cup.kept and not call.addition


def _leaves_room(cup: Cup, call: Call, net_ug: int) -> bool:
    """Whether so much of what is called can be in, and what must follow it then."""
    then = poured(cup, replace(call, target_ug=net_ug))
    return _has_room(cup, then) and can_be_put_right(then)


def is_cut(cup: Cup, component: int, high_ug: int) -> bool:
    """Whether room is what ends the limits of the component that this cup calls for."""
    asked = _asked(cup)
    return asked is not None and asked.component == component and high_ug < asked.high_ug


def _as_much_as_fits(cup: Cup, call: Call) -> Call:
    """The call itself, or as much as there is room for once all that is to follow it is in too,
    down to the smallest that brings the ratio back."""
    if _has_room(cup, with_all(cup, call, least=False)):
        return call
    few = replace(call, target_ug=_least_ug(cup, call))
    if not _has_room(cup, with_all(cup, few, least=False)):
        # What follows it may have to be the least too.
        least = _has_room(cup, with_all(cup, few, least=True))
        return few if least else replace(call, fits=False)
    over_ug = math.ceil(_beyond_ug(cup, with_all(cup, call, least=False)))
    exact = replace(call, target_ug=max(few.target_ug, call.target_ug - over_ug))
    if _has_room(cup, with_all(cup, exact, least=False)):
        few = exact  # where nothing follows it, no more fits
    many = call
    while many.target_ug - few.target_ug > cup.division_ug // 10:
        middle = replace(call, target_ug=(few.target_ug + many.target_ug) // 2)
        fits = _has_room(cup, with_all(cup, middle, least=False))
        few, many = (middle, many) if fits else (few, middle)
    return few


def _least_ug(cup: Cup, call: Call) -> int:
    """The smallest that brings the ratio back and that a hand can hit."""
    return min(
        call.target_ug, max(call.before_ug, call.low_ug) + LEAST_ROOM_DIVISIONS * cup.division_ug
    )


def all_that_follows(cup: Cup) -> Cup:
    """The cup once all that is asked for is in, whatever room there is."""
    call = _asked(cup)
    return cup if call is None else with_all(cup, call, least=False)


def with_all(cup: Cup, call: Call, *, least: bool) -> Cup:
    """The cup once this and all that follows it is in: as it is asked for, or the least of it."""
    asked: Call | None = call
    for _ in range(MOST_STEPS):
        if asked is None:
            break
        if least:
            asked = replace(asked, target_ug=_least_ug(cup, asked))
        cup = poured(cup, asked)
        asked = _asked(cup)
    return cup


def poured(cup: Cup, call: Call) -> Cup:
    """The cup once so much as is asked for is in."""
    runs, index = cup.runs or tuple(map(int, cup.poured)), call.component
    more_ug = call.target_ug - call.before_ug if call.addition else 0
    return replace(
        cup,
        amounts_ug=_put(cup.amounts_ug, index, call.target_ug),
        poured=(*cup.poured[:index], True, *cup.poured[index + 1 :]),
        runs=_put(runs, index, runs[index] + 1),
        switches=cup.switches + 1,
        added_ug=cup.added_ug + more_ug,
    )


def _has_room(cup: Cup, then: Cup) -> bool:
    """Whether cup, scale, heat, lots and sense have room for what this becomes."""
    return _beyond_ug(cup, then) <= 0


def _beyond_ug(cup: Cup, then: Cup) -> float:
    """By how much what this becomes is more than there is room for."""
    added_ug, most_times = then.added_ug - cup.added_ug, MOST_TIMES - 1
    lots = (ug - lot_most_ug(cup, index) for index, ug in enumerate(then.amounts_ug))
    # How much is mixed by a first pour is the builder's choice, hot or not.
    room_ug = cup.room_ug if then.added_ug > 0 else replace(cup, heat_most_ug=None).room_ug
    return max(
        added_ug - most_times * sum(cup.amounts_ug),
        then.added_ug - most_times * cup.terms.size_ug,
        sum(then.amounts_ug) - room_ug,
        *lots,
    )


def _put(of_each: tuple[int, ...], index: int, value: int) -> tuple[int, ...]:
    return (*of_each[:index], value, *of_each[index + 1 :])


def lot_most_ug(cup: Cup, component: int) -> float:
    """The most of it that can be in the cup, by what was left of its lot."""
    left_ug = cup.terms.left_ug[component] if cup.terms.left_ug else None
    if left_ug is None:
        return math.inf
    return left_ug - (cup.out_ug[component] if cup.out_ug else 0)


def _call(cup: Cup, index: int) -> Call:
    """So much of this component as the resin wants that is really there."""
    recipe, more = cup.terms.recipe, int(cup.poured[index])
    if recipe.components[index].role == "additive":
        own = own_band(cup, index, more)
        target, low, high = own.target_ug, own.low_ug, own.high_ug
    elif recipe.hardeners == (index,):
        target, low, high = _closing(cup, index)
    else:
        target, low, high = _of_several(cup, index, more)
    here = cup.amounts_ug[index]
    return Call(index, here, max(target, here), low, high, cup.poured[index])


def _of_several(cup: Cup, index: int, more: int) -> tuple[int, int, int]:
    """Of one of several hardeners: within its own band, and so that what is still to come can
    make the sum right within theirs."""
    own, (target, low, high) = own_band(cup, index, more), _closing(cup, index)
    if to_come := _to_come(cup, index):
        bands = [own_band(cup, other) for other in to_come]
        low = target - sum(band.high_ug - band.margin_ug for band in bands)
        high = min(target - sum(band.low_ug + band.margin_ug for band in bands), high)
        target = own.target_ug
    both = max(low, own.low_ug), min(high, own.high_ug)
    if both[0] <= both[1]:
        low, high = both
    elif cup.amounts_ug[index] < own.low_ug:  # the rest is put right after it
        low, high = own.low_ug, own.high_ug
    edge = min(cup.division_ug, max(0, high - low) // 2)
    return min(max(target, low + edge), high - edge), low, high


def _to_come(cup: Cup, index: int) -> list[int]:
    """The other hardeners of which nothing is in yet."""
    hardeners = cup.terms.recipe.hardeners
    return [other for other in hardeners if other != index and not cup.poured[other]]


def _short_ug(cup: Cup, index: int) -> int:
    return round(cup.resin_ug * cup.terms.recipe.of_resin(index)) - cup.amounts_ug[index]


def _closing(cup: Cup, index: int) -> tuple[int, int, int]:
    """What of this hardener makes the sum of all right, with what there is of the others."""
    recipe, others = cup.terms.recipe, cup.hardener_ug - cup.amounts_ug[index]
    switches = cup.switches + 1
    low, high, _ = hardener_limits(recipe, cup.resin_ug, cup.errors, switches, cup.astray_ug)
    middle = (low + high) // 2 if any(cup.astray_ug) else round(cup.resin_ug * recipe.ratio)
    return middle - others, low - others, high - others


def _more_resin(cup: Cup) -> Iterator[Call]:
    """For each of which there is too much: the resin that it wants. Of a batch that is kept out of
    band only the ratio of all is looked at, once all is in."""
    recipe = cup.terms.recipe
    if cup.kept and not all(cup.poured):
        return
    limits = hardener_limits(recipe, cup.resin_ug, cup.errors, cup.switches, cup.astray_ug)
    if cup.hardener_ug > limits[1]:
        call = _by_steps(cup, _more_resin_for_all(cup))
        if _can_be_hit(cup, call) or not reached(cup.hardener_ug, *limits[:2], cup.division_ug):
            yield call
    for index in () if cup.kept else single.bound(recipe):
        here, most_ug = cup.amounts_ug[index], _most_ug(cup, index)
        if cup.poured[index] and here > most_ug:
            call = _by_steps(cup, _more_resin_for_one(cup, index))
            low_ug = own_band(cup, index).low_ug
            if _can_be_hit(cup, call) or not reached(here, low_ug, most_ug, cup.division_ug):
                yield call


def _can_be_hit(cup: Cup, call: Call) -> bool:
    """Whether a step of the scale lies within the limits."""
    steps = -(-(call.low_ug - call.before_ug) // cup.division_ug)
    return call.before_ug + steps * cup.division_ug <= call.high_ug


def _most_ug(cup: Cup, index: int) -> int:
    """The most of it that needs no more resin."""
    if index in cup.terms.recipe.additives or not _to_come(cup, index):
        return own_band(cup, index).high_ug
    return max(own_band(cup, index).low_ug, _of_several(cup, index, 0)[2])


def _more_resin_for_all(cup: Cup) -> Call:
    recipe = cup.terms.recipe
    low, high = resin_limits(recipe, cup.hardener_ug, cup.errors, cup.switches + 1, cup.astray_ug)
    target = (low + high) // 2 if any(cup.astray_ug) else round(cup.hardener_ug / recipe.ratio)
    if target <= cup.resin_ug:  # by its own weighing no scale proves it: then a wider band holds
        least = cup.resin_ug + LEAST_ROOM_DIVISIONS * cup.division_ug
        target = max(cup.resin_ug + 1, min(least, high))
    return Call(0, cup.resin_ug, target, low, high, addition=True)


def _more_resin_for_one(cup: Cup, index: int) -> Call:
    recipe, here, strayed = cup.terms.recipe, cup.amounts_ug[index], cup.strayed_of(index)
    runs = cup.runs_of(index)
    runs = replace(runs, resin=runs.resin + 1)
    band = single.resin_limits(recipe, index, here, cup.errors, runs, strayed)
    low = band.low_ug
    if index in recipe.hardeners and (to_come := _to_come(cup, index)):
        # So much that the others can make the sum right within their bands.
        with_more = replace(cup, amounts_ug=(max(low, cup.resin_ug), *cup.amounts_ug[1:]))
        spare_ug = sum(
            other.target_ug - other.low_ug - other.margin_ug
            for other in (own_band(with_more, each, 1) for each in to_come)
        )
        low = max(low, math.ceil((here - spare_ug) / recipe.of_resin(index)))
    target = max(band.target_ug, low, cup.resin_ug)
    return Call(0, cup.resin_ug, target, low, band.high_ug, addition=True)
