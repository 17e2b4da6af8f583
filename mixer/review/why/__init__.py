"""Why two tunings differ on one log: which key makes how much of it."""
