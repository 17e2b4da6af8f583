"""What is measured of a run."""
