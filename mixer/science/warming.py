"""When a cup that heats itself must be dealt with, and when it must be let alone.

Read off a course of the lumped cup (:mod:`mixer.science.heat`). This file must never be
read as a promise that a cup is cool before.
"""

from __future__ import annotations

from collections.abc import Callable

from mixer.science.cure import ZERO_C_K
from mixer.science.heat import Course, excess_k, turn

#: degC. Hotter than this no cup can be held for long: skin burns within a minute at 51, within
#: ten seconds at 56 (ISO 13732-1, from memory).
HOT_C = 55.0


def warming(
    rate_per_s: Callable[[float, float], float], course: Course
) -> tuple[float | None, float | None]:
    r"""When it is warm, and when it is hot; None where it never is.

    Warm is a cup that runs away, once it is the critical excess :math:`R T^2/E` warmer than it
    was mixed: where nothing is used up, no cup rests at more above its room [1]_. Of one that
    was mixed cooler than its room that is a little early; reckoned from the room, a warmer one
    would put it off. Hot is one above :data:`HOT_C`, which counts as warm too.

    Parameters
    ----------
    rate_per_s : of conversion and temperature in K, such as :meth:`Cure.rate_per_s`.
    course : of that cup.

    Returns
    -------
    Both in s from the first contact of hardener; warm is never after hot.

    References
    ----------
    .. [1] Semenov N.N., Z. Phys. 48 (1928) 571.

    Examples
    --------
    >>> still = Course((0, 60), (20, 20), (0, 0), (), 20, 0, False, (0, 0))
    >>> warming(lambda alpha, temp: 0.0, still)
    (None, None)
    """
    hot_s = first_s(course, HOT_C)
    if not course.runaway:
        return hot_s, hot_s
    mixed_c = course.temp_c[0]
    least_c = mixed_c + excess_k(rate_per_s, mixed_c + ZERO_C_K)
    times = [at_s for at_s in (first_s(course, least_c), hot_s) if at_s is not None]
    return min(times, default=None), hot_s


def first_s(course: Course, temp_c: float) -> float | None:
    """When a cup is first so warm; None where it never is."""
    warm = next((i for i, now_c in enumerate(course.temp_c) if now_c >= temp_c), None)
    if not warm:
        return None if warm is None else course.t_s[0]
    before_s, now_s = course.t_s[warm - 1 : warm + 1]
    return turn(before_s, now_s, lambda at_s: course.temp_at_c(at_s) >= temp_c)
