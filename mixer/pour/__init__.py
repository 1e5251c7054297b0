"""The guided pour: decide and evolve, with no clock, port, file or window."""
