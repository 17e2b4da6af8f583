"""The panels: each draws one part of the picture from the shared state and takes clicks on it."""
