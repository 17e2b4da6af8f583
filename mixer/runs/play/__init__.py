"""Playing a log through an engine."""
