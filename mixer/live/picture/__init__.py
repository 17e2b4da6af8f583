"""What a running robot shows of itself, frozen for a reader."""
