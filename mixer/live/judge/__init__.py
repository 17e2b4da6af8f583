"""Firmware and rules in one graph, and the rules at work on a running robot."""
