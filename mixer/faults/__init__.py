"""The catalogue: everything that is known to go wrong, as small frozen objects.

`catalogue(plan)` gives all faults that can happen to one robot, in a fixed order.
"""

from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Air, At, Fault

__all__ = ["Air", "At", "Fault", "catalogue"]
