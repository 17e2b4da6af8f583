"""The catalogue: everything that is known to go wrong, as small frozen objects.

`catalogue(plan)` gives all faults that can happen to one robot, in a fixed order.
"""
