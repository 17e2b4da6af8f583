"""Questions and answers on top of the bench."""
