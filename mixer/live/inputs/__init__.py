"""Where a running robot's inputs come from."""
