"""The plain form of a tick in C, which native engines run, and what every form needs: names, levels."""
