"""Chips that run a compiled image without hardware: pins, serial bytes and resets, in its own time."""
