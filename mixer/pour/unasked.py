"""What is poured while nothing is asked for: perhaps the next jug, before its turn.

Rules:

1. No scale can see which jug it was. It counts to the component that is called, and that is said
   as soon as it rests there. The builder's word alone says whose it was: ``was`` and a name.
2. Unless that was said the batch is doubted once it is settled.
3. It came upon a rest at which the builder was shown that there is enough, long after he was last
   told to pour (:attr:`mixer.pour.sight.Sight.stood`): who is slow to stop pours what was asked
   for, and who goes on where it is short, after a hold or a restart, does what is wanted.
4. Drips are no pour: it is more than any jug was seen to drip. Nor is it doubted where no other
   jug is still to come.
"""

from __future__ import annotations

from mixer.pour.draft import Draft
from mixer.pour.facts import Begun, Doubted, Noted
from mixer.pour.leaps import COME_TO_STAY_S
from mixer.pour.rests import Rest
from mixer.pour.sight import Sight
from mixer.pour.state import Pour
from mixer.pour.words import grams

DRIPS_UG = 1_200_000  # of a cold jug in a careless hand (bench table of the project)
UNASKED_UG = 1_500_000
WHY = "more came once there was enough {}, and no scale can see from which jug"
SAY = "{} more came when there was enough {}. If it was {}, say was {}; if not, was and its name"
NOT_SAID = f"{SAY}: else the batch stays unproven."


def more_ug(pour: Pour, sight: Sight, rest: Rest | None) -> int:
    """How much of what lies there at this rest may be of the next jug, and nobody has said; 0:
    nothing."""
    called, stood = pour.called, sight.stood
    if called is None or stood is None or rest is None or rest.frame != stood.frame:
        return 0
    if stood.at_s * 1000 < max(called.at_ms, pour.begun_ms):
        return 0  # it stood for another component, or the builder has said what came since
    others = (done for i, done in enumerate(pour.poured) if i != called.component)
    if all(others) or _why(pour) in pour.doubts:
        return 0
    more = rest.mass_ug - stood.mass_ug
    return more if more > max(UNASKED_UG, DRIPS_UG + 3 * sight.division_ug) else 0


def told(pour: Pour, sight: Sight) -> str:
    """What is said of it as long as it can be answered; empty where nothing is."""
    more = more_ug(pour, sight, sight.rest if sight.resting else None)
    name = _name(pour)
    return f" {NOT_SAID.format(grams(more, sight.division_ug), *[name] * 3)}" if more else ""


def notice(draft: Draft) -> None:
    """Let it be heard, at the reading with which it has come to stay; not of what leapt, which
    has words of its own."""
    sight = draft.sight
    if sight.rest is None or (sight.leap is not None and not sight.leap.is_stream):
        return
    stays_s = sight.rest.since_s + COME_TO_STAY_S
    new = [reading.at_s >= stays_s for reading in sight.recent[-2:]] == [False, True]
    if new and (say := told(draft.pour, sight)):
        draft.notice, draft.alarm = say.strip(), True


def settle(draft: Draft, rest: Rest) -> None:
    """Doubt it, where the called component is settled at this rest."""
    if more_ug(draft.pour, draft.sight, rest):
        draft.add(Doubted(draft.at_ms, _why(draft.pour)))


def answer(draft: Draft, rest: Rest) -> str:
    """The builder says that it was of the called component; what is said to that, empty where
    nothing was to be answered."""
    more, called = more_ug(draft.pour, draft.sight, rest), draft.pour.called
    if not more or called is None:
        return ""
    amount, name = grams(more, draft.sight.division_ug), _name(draft.pour)
    draft.add(Noted(draft.at_ms, f"was {name}: {amount} that came when there was enough"))
    draft.add(Begun(draft.at_ms, called.component))
    return f"{amount} more counts as {name}."


def _why(pour: Pour) -> str:
    return WHY.format(_name(pour))


def _name(pour: Pour) -> str:
    return pour.terms.recipe.components[pour.called.component].name if pour.called else ""
