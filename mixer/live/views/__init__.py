"""Frozen views of a running robot, for whoever shows them."""
