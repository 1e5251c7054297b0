"""cupside: one epoxy batch at a time, guided by weight beside the scale."""

__version__ = "0.1.0"
