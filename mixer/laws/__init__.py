"""The rules as predicates, written once and used by property tests, campaign, proof and the live bench.

`watch` tells what is true of a tick from outside, `RULES` say what must be, `Monitor` follows a running
robot. `relations` says how the watcher's memory and the firmware's state belong together; the proof
shows those first and leans on them after. Imports only the core.
"""

from mixer.laws.memory import memory_slots, start_memory
from mixer.laws.monitor import Broken, Monitor
from mixer.laws.rules import RULES, Rule, rule_named, rules_of
from mixer.laws.watch import Seen, watch

__all__ = [
    "RULES",
    "Broken",
    "Monitor",
    "Rule",
    "Seen",
    "memory_slots",
    "rule_named",
    "rules_of",
    "start_memory",
    "watch",
]
