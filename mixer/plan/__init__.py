"""From a layup to its need, and from its need to a row of batches. Pure: no clock, no file,
no unit library; numbers carry their units in their names."""
