"""The bench's screens: the bench itself, its help, and the few questions it asks."""
