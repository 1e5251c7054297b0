"""A pause with hardener in the cup, and a weight that does not come to rest: said, and put down
once. Neither casts a doubt: what is weighed afterwards is as right as it was.

Rules:

1. A pause is ten minutes with hardener in, in which nothing was poured; each stands in the
   record once. What is said of it is how old the hardener is, for as long as nothing is poured.
2. That the scale is restless stands there once for each component that is called.
"""

from __future__ import annotations

from mixer.pour.draft import Draft
from mixer.pour.facts import PAUSED, RESTLESS, Waited
from mixer.pour.sight import Sight
from mixer.pour.standing import RESTLESS_S, is_restless
from mixer.pour.state import Pour

PAUSE_MS = 600_000  # our choice: some labels of 100 g end at fifteen minutes (practice)


def watch(draft: Draft) -> None:
    """Put down what has begun to be long."""
    pour, called = draft.pour, draft.pour.called
    if pour.stage != "pour" or called is None:
        return
    since_ms = _since_ms(pour, draft.sight)
    known_ms = -1 if pour.paused_ms is None else pour.paused_ms
    if since_ms is not None and since_ms > known_ms and draft.at_ms - since_ms >= PAUSE_MS:
        draft.add(Waited(draft.at_ms, PAUSED, called.component, draft.at_ms - since_ms))
    if pour.restless_in != called.component and is_restless(pour, draft.sight, draft.at_s):
        draft.add(Waited(draft.at_ms, RESTLESS, called.component, round(RESTLESS_S * 1000)))


def told(pour: Pour, sight: Sight, now_s: float) -> str:
    """What is said along with all else while a pause lasts."""
    since_ms = _since_ms(pour, sight) if pour.stage == "pour" else None
    if since_ms is None or now_s * 1000 - since_ms < PAUSE_MS:
        return ""
    assert pour.contact_ms is not None
    minutes = int((now_s * 1000 - pour.contact_ms) // 60_000)
    return f" Hardener has been in for {minutes} min and its pot life runs: go on, or drop it."


def _since_ms(pour: Pour, sight: Sight) -> int | None:
    """Since when nothing was poured; ``None``: it is being poured, or no hardener is in."""
    if pour.contact_ms is None or sight.streaming:
        return None
    called_ms = pour.called.at_ms if pour.called else 0
    quiet_ms = round((sight.quiet_since_s or 0.0) * 1000)
    return max(pour.contact_ms, pour.begun_ms, called_ms, quiet_ms)
