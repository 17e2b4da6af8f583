"""A robot's wires on a board's pins: found by search, refused with a proof, shown as a table."""
