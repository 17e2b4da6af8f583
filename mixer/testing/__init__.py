"""Public conformance checks, one for each seam: what a new lowering, port or log format must pass."""
