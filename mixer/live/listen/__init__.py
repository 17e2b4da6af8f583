"""Listeners of a running robot: what they keep of its ticks."""
