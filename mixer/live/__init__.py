"""One robot running in time: firmware, plant, faults, judge, history."""
