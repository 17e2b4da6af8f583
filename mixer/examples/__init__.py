"""The example robots, as they come with the package."""
