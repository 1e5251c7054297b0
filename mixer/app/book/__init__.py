"""The record away from the bench: looked at, corrected, added to."""
