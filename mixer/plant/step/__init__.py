"""One step of the coupled physics, traced and compiled like the core."""
