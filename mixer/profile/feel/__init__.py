"""From how a robot feels to which number to turn: the drivers' words, keys, a first step."""
