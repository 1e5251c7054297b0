"""No test here is timed: the first to need a unit waits for the library of units."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
