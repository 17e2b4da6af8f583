"""What a profile's TOML may say: one module a section."""
