"""The boards that a robot's whole firmware can be built for: one module a board."""
