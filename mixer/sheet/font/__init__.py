"""The letters that a page brings with it."""
