"""The range of values that every node of a graph can take."""
