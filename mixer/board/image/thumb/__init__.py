"""ARMv6-M as on the Cortex-M0+: its instructions, their time, and what they do to intervals."""
