"""The rules as predicates, written once and used by property tests, campaign, proof and the live bench.

`watch` tells what is true of a tick from outside, `RULES` say what must be. `relations` says how the
watcher's memory and the firmware's state belong together; the proof shows those first and leans on them
after. Imports only the core.
"""
