"""The profile `stickwright new` writes: two motors, one arm switch, every line explained."""

import re

from mixer.errors import OptionError

_TITLE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.\-]{0,59}")
_PLACEHOLDER = "NAME OF THE ROBOT"
_TEXT = """\
# A robot with a motor on each side. Change the numbers to yours, then run
#     stickwright check THIS_FILE
# which names every mistake with its line and what would be right.
# Units stand in the key names: _us microseconds, _ms milliseconds. A share of 1.0 is full.

[robot]
name = "NAME OF THE ROBOT"
tick_ms = 2                    # the firmware runs every 2 ms
# board = "rp2040"             # what runs it: `stickwright check THIS_FILE --board rp2040` finds pins

# ---- What comes in -----------------------------------------------------------------------------
# A receiver sends each channel a pulse, about 1000 to 2000 µs long, every 20 ms.

[stick.throttle]
receiver = 2                   # the receiver's channel number
low_us = 1000                  # pulse with the stick at its low end ...
centre_us = 1500               # ... released ...
high_us = 2000                 # ... and at its high end: read yours and write them here
reverse = false                # true if forward comes out as back
shape = "soft"

[stick.steering]
receiver = 1
shape = "soft"

[shape.soft]
deadband = 0.04                # this share of the stick around its centre does nothing
expo = 0.3                     # 0 is straight, more is softer around the centre
rate = 1.0                     # what full stick gives

[switch.arm]
receiver = 5
positions = ["off", "on"]      # low end of the pulse first

# ---- What goes out -----------------------------------------------------------------------------
# mix says how much of each stick an output gets. Forward is throttle on both sides; to turn right
# the left side runs faster and the right side slower.

[output.left]
pin = 5                        # the board's pin
mix = { throttle = 1.0, steering = 0.8 }
slew_up_ms = 120               # from zero to full takes this long, which spares gears and battery
slew_down_ms = 60
reversal_pause_ms = 20         # rest at zero before the other direction

[output.right]
pin = 6
mix = { throttle = 1.0, steering = -0.8 }
reverse = true                 # this motor is mounted the other way round
slew_up_ms = 120
slew_down_ms = 60
reversal_pause_ms = 20

[group.drive]
outputs = ["left", "right"]
over_range = "scale"           # full throttle and full steering together: shrink both, keep the turn

# ---- When it may move --------------------------------------------------------------------------

[guard]
lost_after_ms = 250            # no good pulse for this long: the signal is lost
stop_within_ms = 260           # the promise that is tested and proven: all at zero by then
arm = { switch = "arm", position = "on" }
neutral_within = 0.04          # no wider than the deadband, or it creeps with the sticks let go
arm_hold_ms = 500              # sticks must rest at neutral this long before it goes live
after_loss = "re-arm"          # after a loss: arm switch off, then on again

# ---- The same robot with other parts -----------------------------------------------------------
# A loadout changes only what it names. Choose it with --loadout gentle.

[loadout.gentle]
output.left.limit = 0.5
output.right.limit = 0.5
"""


def starter_profile(name: str) -> str:
    """A commented two-motor profile that passes `check`, for a robot of this name.

    Raises OptionError for a name a profile could not hold.
    """
    return _TEXT.replace(_PLACEHOLDER, checked_title(name))


def checked_title(name: str) -> str:
    """The name, if a profile can hold it as its robot's. Raises OptionError."""
    if not _TITLE.fullmatch(name):
        said = f"{name!r} cannot be a robot's name"
        remedy = "use letters, digits, spaces, - _ and . only, 60 at most, a letter or digit first"
        raise OptionError(said, remedy)
    return name
