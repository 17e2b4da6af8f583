"""What the firmware does about a tick that comes late: all of it that is not in the tick itself.

The mix counts its times in ticks, so each tick that is not run makes every promised time longer. The board
therefore looks at its clock before each tick; what it finds there is not among the tick's inputs.
"""


def starts_anew(late: int) -> bool:
    """Whether outputs go to rest and the mix starts anew, as at power-up, before a tick that comes late.

    `late` is how many whole ticks after its time it begins. Less than one is caught up with.
    """
    return late >= 1
