"""The parts of `record` and `rehearse`."""
