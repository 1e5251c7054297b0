"""Things with a plug: scales, their links and dialects, and a simulated bench.

Nothing here knows of epoxy, and nothing here imports :mod:`mixer`.
"""
