"""The boards that run a mix: their kinds, their wiring, what is flashed onto them, and chips simulated."""
