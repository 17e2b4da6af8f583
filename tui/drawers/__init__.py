"""Panels that open over the picture: tune, break things, explain, the guided receiver test."""
