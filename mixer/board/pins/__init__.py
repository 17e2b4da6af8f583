"""A robot's wires at a chip's pins, and what those have shown, as an oscilloscope would tell it."""
