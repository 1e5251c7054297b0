"""A simulated bench: pan, load cell, display, falling streams and their drips.

The plant is a pure ``step(dt)``. It is stepped in virtual time by tests, and served
by a process of its own on a real pseudo-terminal for everything that should go
through a real serial port.
"""
