"""How long epoxy lives and how far it has cured: asked by command, and of each live cup."""
