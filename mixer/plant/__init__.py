"""The physics of a small robot: battery, drivers, motors, wheels, chassis, actuators, lift.

SI floats throughout, one module a part, no clock and no I/O. The part modules hold the formulas with
their sources; `step` couples them; `plant` runs the coupled step; `sizing` asks it the questions a
builder has. Estimates for planning: data sheets scatter by ten percent and more, and the floor decides.
"""
