"""Every fault of the catalogue at many operating points, many scenarios at once."""
