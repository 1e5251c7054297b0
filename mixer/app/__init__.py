"""Where things meet: clocks, the bench thread, profiles, wiring."""
