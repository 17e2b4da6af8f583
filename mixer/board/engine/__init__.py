"""A robot's image on a simulated chip beside the core: pulses onto its pins, outputs off its pins."""
