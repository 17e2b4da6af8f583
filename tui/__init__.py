"""The bench's screen. It uses the public names of `mixer`; nothing in `mixer` imports it."""
