"""From a layup to its need, from its need to a row of batches, and what a printed tag says.
Pure: no clock, no file, no unit library; numbers carry their units in their names."""
