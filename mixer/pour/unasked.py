"""What is poured while nothing is asked for: perhaps the next jug, before its turn.

Rules:

1. No scale can see which jug it was. It counts to the component that is called, is said aloud
   once it has come to stay, and leaves the batch unproven.
2. It came upon a rest that stood when all that was asked for had long been shown: who is slow to
   stop pours what was asked for.
3. Drips are no pour: it is more than any jug was seen to drip.
"""

from __future__ import annotations

from mixer.pour.draft import Draft
from mixer.pour.facts import Doubted
from mixer.pour.leaps import COME_TO_STAY_S
from mixer.pour.rests import Rest
from mixer.pour.standing import UNSEEN_S

UNASKED_UG = 1_500_000  # a cold jug in a careless hand drips 1.2 g (bench table of the project)
WHY = "more was poured while nothing was asked for, and no scale can see from which jug"
SAY = (
    "Something was poured while nothing was asked for: if it was of another jug, say was and its "
    "name. The batch stays unproven."
)


def notice(draft: Draft, rest: Rest) -> None:
    """Say it aloud, once it has come to stay; not of what leapt, which has words of its own."""
    leap = draft.sight.leap
    stays = rest.at_s - rest.since_s >= COME_TO_STAY_S
    if stays and (leap is None or leap.is_stream) and settle(draft, rest):
        draft.notice, draft.alarm = SAY, True


def settle(draft: Draft, rest: Rest) -> bool:
    """Doubt it, where the called component is settled at this rest; whether that is new."""
    pour, sight = draft.pour, draft.sight
    if not pour.begun or pour.called is None or WHY in pour.doubts:
        return False
    shown_s = max((sight.told_to_pour_s or 0.0) + UNSEEN_S, pour.begun_ms / 1000)
    before_ug = [
        one.mass_ug
        for one in sight.rests
        if one.at_s >= shown_s and one.mass_ug + pour.shift_ug >= pour.called.base_ug
    ]
    if rest.mass_ug - min(before_ug, default=rest.mass_ug) <= UNASKED_UG:
        return False
    draft.add(Doubted(draft.at_ms, WHY))
    return True
