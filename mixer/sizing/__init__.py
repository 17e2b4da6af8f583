"""Whether a robot lasts its match: figures, limits, verdicts."""
