"""A simulated person who reads cues late and pours: for the demo, tests and training."""
