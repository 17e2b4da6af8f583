"""The two minutes before a match: what is checked on the robot as it stands there, one list, one verdict.

The steps are those of the receiver test where both ask the same, judged by the same code, and more that
only a robot in the pit can answer: weight, volts, the board's own fingerprint, end stops, outputs.
"""
