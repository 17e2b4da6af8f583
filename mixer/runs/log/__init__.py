"""Recorded inputs: reading, writing, mapping, calibrating from them."""
