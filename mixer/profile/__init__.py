"""A robot's profile: TOML in, checked models and the core's integer plan out.

    text ──reading──► tables ──overlay──► a robot's tables in each loadout
         ──validation──► Robot (schema, then contradictions) ──to_plan──► Plan

Every float becomes an integer in `quantize.py`; every message is made of a `Complaint`, to which
`reading.Source` adds file and line. Start reading at `profile.py`.
"""
