"""A robot on the bench: run by a clock, tuned, broken, recorded, shown."""
