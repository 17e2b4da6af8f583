"""The parts of a robot, each with its formula and where that comes from."""
