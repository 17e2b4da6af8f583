"""One run of a task: when it begins and ends, how it kept to the way, what it took."""
