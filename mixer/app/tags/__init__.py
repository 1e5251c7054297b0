"""Tags and cards: what stands on them, and what they mean."""
