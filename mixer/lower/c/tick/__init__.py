"""The exported tick: from the graph to C that a small board runs quickly and a person reads."""
