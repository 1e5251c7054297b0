"""How much to mix, and afterwards what became of it."""
