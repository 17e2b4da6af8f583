"""Before the event: every fault simulated, the rules proven for all inputs.

`report_of` gives everything that is known about one robot. `campaign` runs faults at many operating points,
`proof` settles the rules by induction over the same tick, `warnings` says what a profile asks for that a
builder will regret. All of them look at the `watched` tick: the firmware and the watcher beside it, as one
graph.
"""
