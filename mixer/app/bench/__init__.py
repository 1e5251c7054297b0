"""The bench: its one thread, the batch on it, and what it writes and says."""
