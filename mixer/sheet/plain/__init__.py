"""The same results in plain words: what inspectors and newcomers ask, and how each answer was found out."""
