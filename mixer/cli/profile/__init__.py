"""What begins, explains and tunes a profile."""
