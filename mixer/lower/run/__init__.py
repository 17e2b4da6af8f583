"""The graph run on this machine: as straight-line Python, numpy, or compiled C."""
