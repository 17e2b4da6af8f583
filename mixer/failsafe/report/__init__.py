"""What campaign and proof found, put together for a reader."""
