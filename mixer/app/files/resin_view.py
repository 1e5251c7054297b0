"""A resin profile as ``cupside resin show`` tells it to a script."""

from __future__ import annotations

from typing import Any

from mixer.app.files.profiles import ResinProfile


def resin_view(profile: ResinProfile, confirmed: bool) -> dict[str, Any]:
    """What ``cupside resin show`` tells of a resin, ready for JSON."""
    return {
        "name": profile.name,
        "source": profile.source,
        "about": profile.about,
        "path": str(profile.path),
        "confirmed": confirmed,
        "components": [
            {
                "name": c.name,
                "parts": c.parts,
                "role": c.role,
                "density_g_per_ml": c.density_g_per_ml,
                "drip_s": c.drip_s,
                "tolerance": c.tolerance,
                "tag": c.tag,
                "ahew" if c.role == "hardener" else "eew": equivalent,
            }
            for c, equivalent in zip(profile.components, profile.equivalents, strict=True)
        ],
        "ratio_tolerance": profile.ratio_tolerance,
        "split_tolerance": profile.split_tolerance,
        "stir_s": profile.stir_s,
        "pot_life": profile.pot_life.view() if profile.pot_life else None,
        "cure": profile.cure.view() if profile.cure else None,
        "room": {"coldest_c": profile.room_coldest_c, "dampest": profile.room_dampest},
    }
