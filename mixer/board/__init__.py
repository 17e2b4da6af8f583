"""The boards that run a mix: what they are, how a robot is wired to them, their firmware, and them simulated."""
