"""The window: one face of the picture of the bench.

Panels that each draw one part of the same immutable picture, a loop that looks for
a newer one, and keys. Nothing here decides anything about a batch, reads a scale or
touches the record. Opened through :func:`mixer.desk.window.open_window`.
"""
