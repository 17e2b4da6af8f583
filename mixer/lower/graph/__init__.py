"""The graph that a traced core becomes: its nodes, how they are built and made simpler."""
