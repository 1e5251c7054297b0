"""Facts of invented batches, as the bench would hand them to the record."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from mixer.record.envelope import Entry

START = datetime(2024, 5, 1, 8, tzinfo=UTC)

#: The first fact of a batch of an invented resin: every key that the vocabulary has.
OPENED: dict[str, Any] = {
    "resin_system": "invented resin",
    "resin_source": "invented for tests",
    "recipe": {
        "components": [
            {"name": "resin", "role": "resin", "parts": 100, "drip_s": 8, "density_g_per_ml": 1.13},
            {
                "name": "hardener",
                "role": "hardener",
                "parts": 36,
                "drip_s": 8,
                "density_g_per_ml": None,
            },
        ],
        "ratio_tolerance": 0.02,
        "split_tolerance": 0.1,
    },
    "size_ug": 60_000_000,
    "cup_name": None,
    "cup_max_ug": None,
    "scale_name": "invented scale",
    "scale_max_ug": None,
    "stir_ms": 120_000,
    "hands_free": False,
    "bench": "simulated",
    "weights": "scale",
    "operator": "AB",
    "layup": "rudder skin",
    "plies": "1-2",
    "air_c": 21.5,
    "resin_c": None,
    "rh_pct": 55,
    "dew_point_c": None,
    "resin_lot": "R-17",
    "hardener_lot": None,
    "program": "0.1.0",
    "profile": {"name": "invented resin"},
    "pot_life": {"minutes": 25, "at_c": 25},
}


def fact(kind: str, batch: int = 1, at_ms: int = 0, boot: str = "boot-1", **data: Any) -> Entry:
    """One fact, ``at_ms`` after the start."""
    utc = (START + timedelta(milliseconds=at_ms)).isoformat(timespec="milliseconds")
    return Entry(kind, data, at_ms, boot, utc.replace("+00:00", "Z"), batch, "shop")


def opened(batch: int = 1, at_ms: int = 0, **changes: Any) -> Entry:
    """The first fact of a batch, with these keys changed."""
    return fact("opened", batch, at_ms, **{**OPENED, **changes})


def poured(batch: int = 1) -> list[Entry]:
    """A batch up to the accepted hardener: 44.1 g and 15.9 g."""
    return [
        opened(batch),
        fact("tared", batch, 1_000, tare_ug=12_300_000, text="12.3 g"),
        fact("called", batch, 1_000, component=0, target_ug=44_100_000),
        fact("begun", batch, 5_000, component=0),
        fact("accepted", batch, 20_000, component=0, net_ug=44_100_000, text="56.4 g"),
        fact("begun", batch, 30_000, component=1),
        fact("accepted", batch, 40_000, component=1, net_ug=15_900_000, text="72.3 g"),
    ]


def live(batch: int = 1, cup: int = 1, at_ms: int = 160_000, **changes: Any) -> Entry:
    """The fact that a batch went live in this cup."""
    said: dict[str, Any] = {
        "cup": cup,
        "verdict": "in-band",
        "amounts_ug": [44_100_000, 15_900_000],
        "ratio_target": 36,
        "ratio_actual": 36.054421768707485,
        "unproven_because": None,
    }
    return fact("live", batch, at_ms, **{**said, **changes})
