"""A course for the live robot: tasks, what is measured of a run, two tunings compared blindly."""
