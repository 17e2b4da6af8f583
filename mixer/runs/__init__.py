"""Runs of the firmware over recorded time: logs in, replayed ticks out, and what they say.

A log's rows (`log_read`) become arrays of inputs at the plan's tick (`feed`), an engine (`engines`)
turns those into arrays of signals (`replay`), and `measures`, `compare` and `per_tick` read them chunk by
chunk, so that memory stays flat however long the log is. `explain` follows one moment from pulse to
motor; `calibrate` proposes endpoints from recorded sweeps.
"""
