"""A robot's profile: TOML in, checked models and the core's integer plan out.

    text ──reading──► tables ──overlay──► a robot's tables in each loadout
         ──validation──► Robot (schema, then contradictions) ──to_plan──► Plan

Every float becomes an integer in `quantize.py`; every message is made of a `Complaint`, to which
`reading.Source` adds file and line. Start reading at `profile.py`.
"""

from mixer.profile.checks.plan import broken_promises, check_plan
from mixer.profile.integers.numbers import NumberRow, numbers
from mixer.profile.integers.quantize import shape_of
from mixer.profile.profile import Profile, fingerprint_of, load_profile, parse_profile
from mixer.profile.schema.root import Robot
from mixer.profile.starter import starter_profile

__all__ = [
    "NumberRow",
    "Profile",
    "Robot",
    "broken_promises",
    "check_plan",
    "fingerprint_of",
    "load_profile",
    "numbers",
    "parse_profile",
    "shape_of",
    "starter_profile",
]
