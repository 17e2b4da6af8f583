"""What the floor lets a wheel do: traction limit, with magnets.

Coulomb's law F <= mu·N with N the weight on the wheel plus the pull of magnets; magnets add to N, not to
the mass that has to be moved, and only over steel. Values of mu: rubber on dry concrete about 0.8 sliding
(Serway & Beichner, table 5.2).
"""


def traction_limit(grip: float, weight_n: float, magnet_n: float = 0.0) -> float:
    """The most a wheel can push along the floor, in N."""
    return grip * max(weight_n + magnet_n, 0.0)
