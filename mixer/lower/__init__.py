"""The same core as a graph, and what the graph is lowered to.

`trace` runs `core.tick` once on symbols and gives a `Graph`, specialised to one plan. `python` and
`arrays` run it fast, `ranges` shows that no int32 overflows, `terms` hands it to a solver. Every lowering
gives the same bits as the core called directly; `mixer.testing.lowering` is the check each must pass.
"""
