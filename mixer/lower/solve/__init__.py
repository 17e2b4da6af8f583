"""The graph as terms of a solver."""
