"""From pulse to motor in words."""
