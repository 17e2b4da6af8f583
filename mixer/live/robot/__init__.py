"""The robot that runs: its firmware, body, inputs and what happens to it."""
