"""A resin is confirmed against its label before it is first poured on a real scale.

The one number that nothing on the bench can check is the mix ratio itself: a profile
for another product, or a label by volume read as one by weight, gives a batch that
is perfectly in band and never cures. So the user reads the ratio off the container,
says whether it is by weight or by volume, and both must agree. This file must never
take one for the other, nor hold a profile for confirmed whose mixing data have
changed since.

What was confirmed is kept in one small JSON file beside the user's own profiles.
"""

from __future__ import annotations

import hashlib
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from mixer.app.files import small_store
from mixer.app.files.folders import config_folder
from mixer.app.files.profiles import ResinProfile
from mixer.pour.recipe import Component
from mixer.units import LONGEST, shown

BY_WEIGHT_AGREES = 0.002
"""Relative. A label by weight gives the very figures of the profile; this is rounding."""

BY_VOLUME_AGREES = 0.02
"""Relative, at most: what the rounding of a label by volume may explain."""

DENSITY_ROUNDED_G_PER_ML = 0.005
"""Data sheets give a density to the hundredth (common practice, no source)."""

_NUMBER = re.compile(r"[0-9]{1,6}(?:\.[0-9]{0,6})?|\.[0-9]{1,6}")


class ConfirmError(ValueError):
    """One sentence: why the resin is not confirmed."""


def default_store() -> Path:
    """Where confirmations are kept unless told otherwise."""
    return config_folder() / "confirmed.json"


def confirm(profile: ResinProfile, ratio_text: str, by: str, store: Path, at: datetime) -> str:
    """Compare the label's ratio with the profile and remember that they agree.

    ``ratio_text`` has all parts in the recipe's order ("100:36"), ``by`` is "weight"
    or "volume", ``at`` the time, with its zone. The sentence says what was confirmed.
    Raises :class:`ConfirmError`; then nothing is remembered, and where the label contradicts
    the profile an earlier confirmation is taken back.
    """
    if by not in ("weight", "volume"):
        raise ConfirmError(f"{shown(by)} was given; say whether the label is by weight or volume")
    label = _parts(profile, ratio_text)
    components, words = _on_label(profile), ratio_text.split(":")
    own = [_amount(c, by) for c in components]
    for at_place, (theirs, ours) in enumerate(zip(label[1:], own[1:], strict=True), 1):
        agrees = BY_WEIGHT_AGREES
        if by == "volume":
            agrees = _rounding(words[at_place], components[0], components[at_place])
        # Each hardener against the resin; the last term lets the limit itself pass.
        if abs((theirs / label[0]) / (ours / own[0]) - 1) > agrees + 1e-9:
            _take_back(profile, store)
            raise ConfirmError(
                f"{profile.name}: the label says {ratio_text.strip()} by {by}, the profile has "
                f"{_ratio(own)} by {by} ({_order(profile)}); they must agree within "
                f"{agrees:.1%}, so this resin is not confirmed"
            )
    known, trouble = _read(store)
    known[mixing_key(profile)] = {
        "resin": profile.name,
        "source": profile.source,
        "ratio": ratio_text.strip(),
        "by": by,
        "at_utc": at.astimezone(UTC).isoformat(timespec="seconds"),
    }
    _write(store, known, keep_damaged=trouble is not None)
    kept = f"; the file of earlier ones was damaged and is kept as {_aside(store).name}"
    return (
        f"{profile.name} is confirmed: {ratio_text.strip()} by {by} on the label agrees with "
        f"{_ratio([c.parts for c in _on_label(profile)])} by weight in the profile"
        f"{kept if trouble else ''}."
    )


def _take_back(profile: ResinProfile, store: Path) -> None:
    """A label that contradicts the profile: what was confirmed before is so no longer."""
    known, trouble = _read(store)
    if trouble is None and known.pop(mixing_key(profile), None) is not None:
        _write(store, known, keep_damaged=False)


def is_confirmed(profile: ResinProfile, store: Path) -> bool:
    """Whether this very mixing data was confirmed. A damaged store confirms nothing."""
    return mixing_key(profile) in _read(store)[0]


def store_trouble(store: Path) -> str | None:
    """One sentence where the store cannot be used, so that it can be said; else None."""
    return _read(store)[1]


def mixing_key(profile: ResinProfile) -> str:
    """A hash of all that decides the mix: an edited profile must be confirmed anew."""
    # As floats: 100 and 100.0 parts are the same to a person, and must be here.
    data = {
        "resin": profile.name,
        "components": [
            [c.name, c.role, float(c.parts), c.density_g_per_ml]
            + ([c.tolerance] if c.tolerance is not None else [])
            for c in profile.components
        ],
        "band": [profile.ratio_tolerance, profile.split_tolerance],
    }
    text = json.dumps(data, sort_keys=True)
    return hashlib.sha256(text.encode("ascii")).hexdigest()


def _amount(component: Component, by: str) -> float:
    if by == "weight":
        return component.parts
    if component.density_g_per_ml is None:
        raise ConfirmError(
            f"{component.name} has no density in the profile, so a label by volume cannot be "
            "compared; give the ratio by weight"
        )
    return component.parts / component.density_g_per_ml


def _rounding(word: str, resin: Component, hardener: Component) -> float:
    """How far a label by volume may be off by what was rounded in it and in the densities: half
    a step of this figure's last digit, and half a hundredth of each density.

    >>> a, b = (Component(n, n, 1, 8, 1.0) for n in ("resin", "hardener"))
    >>> round(_rounding("32.7", a, b), 4), round(_rounding("33", a, b), 4)
    (0.0135, 0.02)
    """
    decimals = len(word.strip().partition(".")[2])
    label = 0.5 / float(10**decimals) / float(word)
    densities = (c.density_g_per_ml or 1.0 for c in (resin, hardener))
    rounded = label + sum(DENSITY_ROUNDED_G_PER_ML / density for density in densities)
    return min(BY_VOLUME_AGREES, BY_WEIGHT_AGREES + rounded)


def _parts(profile: ResinProfile, ratio_text: str) -> list[float]:
    count = len(_on_label(profile))
    # No figures as an example: they could be those of this very profile.
    form = ":".join("ABCDEF"[:count])
    accepted = f"give {count} numbers above 0, {_order(profile)}, as {form} from the label"
    words = [word.strip() for word in ratio_text[: LONGEST + 1].split(":")]
    whole = len(ratio_text) <= LONGEST and all(_NUMBER.fullmatch(word) for word in words)
    if not whole or len(words) < 2 or any(float(word) <= 0 for word in words):
        raise ConfirmError(f"ratio: {shown(ratio_text)} is not a mix ratio; {accepted}")
    if len(words) != count:
        raise ConfirmError(
            f"ratio: {shown(ratio_text)} has {len(words)} parts, {profile.name} has {count}"
            f"{_own(profile)}; {accepted}"
        )
    return [float(word) for word in words]


def _order(profile: ResinProfile) -> str:
    return " : ".join(c.name for c in _on_label(profile))


def _own(profile: ResinProfile) -> str:
    """What the list of resins shows as a part, and no label has."""
    added = [c.name for c in profile.components if c.role == "additive"]
    return f" on its label ({' and '.join(added)} of your own not counted)" if added else ""


def _on_label(profile: ResinProfile) -> list[Component]:
    """Resin and hardeners: what the builder adds of his own is on no label."""
    return [c for c in profile.components if c.role != "additive"]


def _ratio(amounts: list[float]) -> str:
    return ":".join(f"{100 * amount / amounts[0]:.4g}" for amount in amounts)


def _read(store: Path) -> tuple[dict[str, Any], str | None]:
    """What was confirmed, and one sentence where that cannot be known."""
    try:
        return small_store.read(store, "confirmed", dict), None
    except OSError as error:
        reason = error.strerror or str(error)
        return {}, f"{store}: cannot be read ({reason}), so no resin counts as confirmed"
    except small_store.Damaged:
        return {}, f"{store}: is damaged, so no resin counts as confirmed; confirm yours again"


def _aside(store: Path) -> Path:
    return store.with_name(f"{store.stem}.damaged{store.suffix}")


def _write(store: Path, known: dict[str, Any], *, keep_damaged: bool) -> None:
    try:
        small_store.write(store, "confirmed", known, _aside(store) if keep_damaged else None)
    except OSError as error:
        reason = error.strerror or str(error)
        raise ConfirmError(
            f"{store}: cannot be written ({reason}), so nothing is confirmed"
        ) from error
