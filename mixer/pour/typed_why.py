"""Why a batch of typed weights is unproven, and what else is known to be wrong with it."""

from __future__ import annotations

from mixer.pour import bands
from mixer.pour.state import Pour

TYPED = "its weights were typed in"


def why_unproven(actual: float | None, target: float, tolerance: float) -> str:
    """Why typed weights prove nothing, and whether they would have been in tolerance.

    >>> why_unproven(36.5, 36, 0.03)
    'its weights were typed in'
    >>> why_unproven(40.0, 36, 0.03)
    'its weights were typed in, and their ratio is off by 11.1 %, more than the 3 % allowed'
    """
    off = 0.0 if actual is None else actual / target - 1
    if abs(off) <= tolerance:
        return TYPED
    allowed = f"more than the {100 * tolerance:g} % allowed"
    return f"{TYPED}, and their ratio is off by {100 * off:.1f} %, {allowed}"


def because(pour: Pour) -> str:
    """The same of a pour as it stands at its end, with all else that it was doubted for."""
    return "; ".join([_why(pour), *pour.also_doubted])


def _why(pour: Pour) -> str:
    if pour.tared is None:
        return "no cup was weighed"
    if pour.called is not None and pour.parting is None:
        name = pour.terms.recipe.components[pour.called.component].name
        return f"{TYPED}, and what came of the {name} was not"
    recipe = pour.terms.recipe
    why = why_unproven(bands.ratio_actual(pour.cup), recipe.ratio_target, recipe.ratio_tolerance)
    if why == TYPED and not bands.conforms(pour.cup)[0]:
        return f"{TYPED}, and by them it is out of band"
    return why
