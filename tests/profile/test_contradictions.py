"""Each contradiction a profile can hold is refused alone, with its place, its value and a remedy."""

import re

import pytest

from tests.profile.texts import BASE, assert_only, refusals, spoiled

STICK = "[stick.throttle]\nreceiver = 2\n"
PACE = 'positions = ["slow", "mid", "fast"]\n'
LEFT = "pin = 5\nmix = { throttle = 1.0, steering = 0.8 }\n"

CASES = {
    "low above centre": (
        (STICK, STICK + "low_us = 1600\n"),
        "p.toml:5: stick.throttle.low_us: low_us 1600 is above centre_us 1500 | low <= centre <= high; "
        "reverse = true turns a stick round",
    ),
    "centre above high": (
        (STICK, STICK + "high_us = 1400\n"),
        "p.toml:3: stick.throttle.centre_us: centre_us 1500 is above high_us 1400 | low <= centre <= high; "
        "reverse = true turns a stick round",
    ),
    "no way to go": (
        (STICK, STICK + "low_us = 1500\nhigh_us = 1500\n"),
        "p.toml:5: stick.throttle.low_us: low_us, centre_us and high_us are all 1500, so the stick has no "
        "way to go | read the pulses at both ends of the stick and write them here",
    ),
    "a way too short": (
        (STICK, STICK + "low_us = 1470\n"),
        "p.toml:5: stick.throttle.low_us: only 30 µs from the centre, which jitter alone could cover | "
        "leave 50 µs or more, or put it on the centre for a one-sided stick",
    ),
    "endpoint outside the valid range": (
        (STICK, STICK + "low_us = 700\n"),
        "p.toml:5: stick.throttle.low_us: 700 µs is outside [receiver] valid_us [800, 2200]: it would never "
        "count | bring it inside, or widen valid_us",
    ),
    "valid range upside down": (
        ('name = "spoilt"\n', 'name = "spoilt"\n[receiver]\nvalid_us = [2200, 800]\n'),
        "p.toml:4: receiver.valid_us: the shortest valid pulse, 2200 µs, is not below the longest, 800 µs | "
        "write the shorter first: [800, 2200]",
    ),
    "deadband that leaves nothing": (
        ("expo = 0.3\n", "deadband = 1.0\n"),
        "p.toml:15: shape.soft.deadband: 1.0 is above 0.9 | from 0 up to 0.9: share of the stick around its "
        "centre that does nothing",
    ),
    "lost mark inside the endpoints, below": (
        (STICK, STICK + "lost_below_us = 1005\n"),
        "p.toml:5: stick.throttle.lost_below_us: 1005 µs lies inside the endpoints, whose lower one is 1000 | "
        "stay below 1000, or leave it out",
    ),
    "lost mark inside the endpoints, above": (
        (PACE, PACE + "lost_above_us = 2000\n"),
        "p.toml:14: switch.pace.lost_above_us: 2000 µs lies inside the endpoints, whose upper one is 2000 | "
        "stay above 2000, or leave it out",
    ),
    "switch upside down": (
        (PACE, PACE + "low_us = 2000\nhigh_us = 1000\n"),
        "p.toml:14: switch.pace.low_us: low_us 2000 is not below high_us 1000 | low < high; reverse = true "
        "turns a switch round",
    ),
    "hysteresis wider than the gap": (
        (PACE, PACE + "hysteresis_us = 250\n"),
        "p.toml:14: switch.pace.hysteresis_us: 250 µs is wider than the gap of 250 µs from an edge to the end "
        "| stay below 250, or no pulse could reach the end positions",
    ),
    "two outputs on one pin": (
        ("pin = 6\n", "pin = 5\n"),
        "p.toml:20: output.right.pin: pin 5 is already taken by output.left | give each wire a pin of its own",
    ),
    "output and contact on one pin, in another case": (
        ("pin = 7\n", 'pin = "a1"\n'),
        "p.toml:31: contact.in.pin: pin 'A1' is already taken by output.tray | give each wire a pin of its own",
    ),
    "two channels on one receiver number": (
        ("receiver = 6\n", "receiver = 5\n"),
        "p.toml:12: switch.pace.receiver: receiver channel 5 is already read by switch.arm | give each a "
        "channel of its own; 4 is free",
    ),
    "mix naming an unknown stick": (
        ("throttle = 1.0, steering = 0.8", "throtle = 1.0, steering = 0.8"),
        "p.toml:18: output.left.mix.throtle: no stick or switch is called 'throtle' | did you mean "
        "'throttle'? known sticks and switches: arm, pace, steering, throttle, tip",
    ),
    "output without a mix": (
        ("mix = { tip = 1.0 }", "mix = { tip = 0.0 }"),
        "p.toml:24: output.tray.mix: mixes nothing, so it would never move | write how much of which stick "
        "it gets: { throttle = 1.0 }",
    ),
    "weights that sum past four": (
        (LEFT, "pin = 5\nmix = { throttle = 2, steering = -2, tip = 0.5 }\n"),
        "p.toml:18: output.left.mix: the weights' magnitudes sum to 4.5 | keep the sum within 4, or whole "
        "numbers could overflow",
    ),
    "a weight past two": (
        ("mix = { tip = 1.0 }", "mix = { tip = 2.5 }"),
        "p.toml:24: output.tray.mix.tip: 2.5 is above 2 | from -2 up to 2: how much of each stick or switch it "
        "gets, such as { throttle = 1.0, steering = -0.8 }",
    ),
    "unknown shape": (
        (STICK, STICK + 'shape = "sof"\n'),
        "p.toml:5: stick.throttle.shape: no shape is called 'sof' | did you mean 'soft'? known shapes: "
        "linear, soft",
    ),
    "shape by an unknown switch": (
        (STICK, STICK + 'shape = { switch = "pase", slow = "soft" }\n'),
        "p.toml:5: stick.throttle.shape.switch: no switch is called 'pase' | did you mean 'pace'? known "
        "switches: arm, pace",
    ),
    "shape without a switch": (
        (STICK, STICK + 'shape = { slow = "soft" }\n'),
        'p.toml:5: stick.throttle.shape: does not say which switch chooses | write { switch = "NAME", and a '
        "shape for each of its positions }",
    ),
    "positions without a shape": (
        (STICK, STICK + 'shape = { switch = "pace", slow = "soft" }\n'),
        "p.toml:5: stick.throttle.shape: no shape for position 'mid', 'fast' of switch 'pace' | give a shape "
        "for each of: slow, mid, fast",
    ),
    "a shape for no position": (
        (STICK, STICK + 'shape = { switch = "arm", off = "soft", on = "soft", onn = "soft" }\n'),
        "p.toml:5: stick.throttle.shape.onn: switch 'arm' has no position 'onn' | did you mean 'on'? known "
        "positions: off, on",
    ),
    "the built-in shape's name": (
        ("[shape.soft]", "[shape.linear]"),
        "p.toml:14: shape.linear: 'linear' is the built-in straight shape | choose another name",
    ),
    "unknown arm position": (
        ('position = "on"', 'position = "onn"'),
        "p.toml:38: guard.arm.position: switch 'arm' has no position 'onn' | did you mean 'on'? known "
        "positions: off, on",
    ),
    "an arm switch that drives": (
        ("mix = { tip = 1.0 }", "mix = { tip = 1.0, arm = 0.5 }"),
        "p.toml:38: guard.arm.switch: switch 'arm' drives the mix in the position that arms, so it is never "
        "at neutral | arm by a switch of its own",
    ),
    "a group's unknown output": (
        ('outputs = ["left", "right"]', 'outputs = ["left", "rigth"]'),
        "p.toml:26: group.drive.outputs[1]: no output is called 'rigth' | did you mean 'right'? known outputs: "
        "left, right, tray",
    ),
    "yield without a stick": (
        ('over_range = "scale"', 'over_range = "yield"'),
        'p.toml:25: group.drive.yields: over_range = "yield" does not say which stick gives way | add yields = '
        '"throttle", or the stick you mean',
    ),
    "yield of a stick the group does not mix": (
        ('over_range = "scale"', 'over_range = "yield"\nyields = "tip"'),
        "p.toml:28: group.drive.yields: none of the group's outputs mixes 'tip' | known sources of this "
        "group: steering, throttle",
    ),
    "yields that nothing reads": (
        ('over_range = "scale"', 'over_range = "scale"\nyields = "throttle"'),
        'p.toml:28: group.drive.yields: has no meaning with over_range = "scale" | take it out, or write '
        'over_range = "yield"',
    ),
    "duty key on a pulse wire": (
        ("pin = 7\n", "pin = 7\ntop = 255\n"),
        'p.toml:24: output.tray.top: has no meaning on a pulse wire | take it out, or write wire = "duty"',
    ),
    "output that cannot move": (
        ("pin = 7\n", "pin = 7\nlow_us = 1500\nhigh_us = 1500\n"),
        "p.toml:24: output.tray.low_us: low_us, centre_us and high_us are all 1500, so the output could never "
        "move | write the pulses for full reverse and full forward",
    ),
    "actuator's unknown contact": (
        ('out_stop = "out"', 'out_stop = "outt"'),
        "p.toml:34: actuator.tray.out_stop: no contact is called 'outt' | did you mean 'out'? known contacts: "
        "in, out",
    ),
    "one contact for both ends": (
        ('in_stop = "in"', 'in_stop = "out"'),
        "p.toml:35: actuator.tray.in_stop: contact 'out' is the out_stop as well, so it would block both "
        "directions | give each end a contact of its own",
    ),
    "travel that overflows": (
        ('in_stop = "in"', 'in_stop = "in"\nfull_travel_ms = 90000'),
        "p.toml:36: actuator.tray.full_travel_ms: 90000 ms with travel_margin 1.5 is too long to count | stay "
        "below 87381 ms, or leave it out",
    ),
    "loss within a frame": (
        ("lost_after_ms = 250", "lost_after_ms = 15"),
        "p.toml:37: guard.lost_after_ms: 15 ms is shorter than a frame of 20 ms and a tick of 2 ms | allow a "
        "few frames, such as 240, or every frame would look like a loss",
    ),
    "a promise the loss alone breaks": (
        ("lost_after_ms = 250", "lost_after_ms = 250\nstop_within_ms = 251"),
        "p.toml:38: guard.stop_within_ms: 251 ms cannot be kept: lost_after_ms 250 and a tick of 2 ms make 252 "
        "ms | promise 252 or more, shorten lost_after_ms",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_contradiction_is_refused_with_its_remedy(case: str) -> None:
    """One contradiction gives one problem, which says where, what and what would be right."""
    (old, new), expected = CASES[case]

    assert_only(spoiled(old, new), re.escape(expected))


EXTRA = {
    "an output in two groups": (
        '[group.other]\noutputs = ["left"]\n',
        "p.toml:40: group.other.outputs[0]: output 'left' is already in group 'drive' | put each output into "
        "one group only",
    ),
    "two actuators on one output": (
        '[actuator.second]\noutput = "tray"\nfull_travel_ms = 900\n',
        "p.toml:40: actuator.second.output: output 'tray' already drives actuator 'tray' | give each actuator "
        "an output of its own, or its stops could not stop it",
    ),
    "stick and switch of one name": (
        "[switch.tip]\nreceiver = 8\n",
        "p.toml:39: switch.tip: a stick and a switch are both called 'tip', so a mix could mean either | "
        "rename one of them",
    ),
    "contact and channel of one name": (
        "[contact.tip]\npin = 30\n",
        "p.toml:39: contact.tip: a contact and a channel are both called 'tip', so a log's column could mean "
        "either | rename one of them",
    ),
    "a log's own column": (
        "[stick.t_ms]\nreceiver = 8\n",
        "p.toml:39: stick.t_ms: 't_ms' is a column every log has already | choose another name",
    ),
    "flip without a source": (
        '[flip]\nreverses = ["throttle"]\n',
        "p.toml:39: flip: needs one source | write either switch and position, or contact",
    ),
    "flip with two sources": (
        '[flip]\nreverses = ["throttle"]\nswitch = "arm"\nposition = "on"\ncontact = "in"\n',
        "p.toml:39: flip: has two sources, a switch and a contact | write either switch and position, or "
        "contact",
    ),
    "flip of an unknown stick": (
        '[flip]\nreverses = ["throtle"]\ncontact = "in"\n',
        "p.toml:40: flip.reverses[0]: no stick is called 'throtle' | did you mean 'throttle'? known sticks: "
        "steering, throttle, tip",
    ),
    "flip by a switch without its position": (
        '[flip]\nreverses = ["throttle"]\nswitch = "pace"\n',
        "p.toml:39: flip.position: does not say which position of switch 'pace' is meant | add position = one "
        "of: slow, mid, fast",
    ),
    "no stop where the firmware is blind": (
        '[output.x]\npin = 20\nmix = { tip = 1 }\n[actuator.x]\noutput = "x"\nout_stop = "out"\n'
        "stops_in_circuit = true\n",
        "p.toml:44: actuator.x.out_stop: the board cannot see a switch that sits in the motor's own circuit | "
        "take it out, or write stops_in_circuit = false",
    ),
}


@pytest.mark.parametrize("case", EXTRA)
def test_contradicting_addition_is_refused_with_its_remedy(case: str) -> None:
    """One thing too many gives one problem at its own line."""
    extra, expected = EXTRA[case]

    assert_only(BASE + extra, re.escape(expected))


def test_too_many_outputs_are_refused() -> None:
    """A 25th output does not fit the core."""
    extra = "".join(f"[output.o{n}]\npin = {n + 20}\nmix = {{ tip = 1 }}\n" for n in range(22))

    assert_only(
        BASE + extra,
        re.escape(
            "p.toml:102: output.o21: 25 outputs are too many | use 24 at most, of which this is the next"
        ),
    )


def test_too_many_actuators_are_refused() -> None:
    """A ninth actuator does not fit the core."""
    extra = "".join(
        f'[output.o{n}]\npin = {n + 20}\nmix = {{ tip = 1 }}\n[actuator.a{n}]\noutput = "o{n}"\n'
        for n in range(8)
    )

    assert_only(
        BASE + extra,
        re.escape(
            "p.toml:77: actuator.a7: 9 actuators are too many | use 8 at most, of which this is the next"
        ),
    )


def test_promise_is_reckoned_with_the_ramp() -> None:
    """Stopping by ramp needs the slowest output's way down: 250 lost, then 100 ms of 2 ms ticks."""
    slow = spoiled("pin = 7\n", "pin = 7\nslew_down_ms = 100\n").replace(
        "lost_after_ms = 250\n", 'lost_after_ms = 250\nstop = "ramp"\nstop_within_ms = 340\n'
    )

    expected = (
        r"p\.toml:40: guard\.stop_within_ms: 340 ms cannot be kept: lost_after_ms 250, the slowest slew_down_ms "
        r"and a tick of 2 ms make 350 ms \| promise 350 or more, shorten lost_after_ms, shorten "
        r"slew_down_ms, or stop by cut"
    )
    assert_only(slow, expected)


def test_too_many_channels_are_refused() -> None:
    """A receiver has 16 channels, so a 17th stick can only share a number: both are said."""
    extra = "".join(f"[stick.s{n}]\nreceiver = {n % 16 + 1}\n" for n in range(12))

    assert any(": stick: 17 sticks and switches are too many |" in said for said in refusals(BASE + extra))
