"""From a profile's numbers to the integers of a plan."""
