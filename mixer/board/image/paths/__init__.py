"""Every path through a routine, followed on ranges of its numbers: what is the same for all processors."""
