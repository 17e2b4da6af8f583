"""What a profile that reads well may still have wrong, told with line and remedy."""
