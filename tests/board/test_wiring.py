"""A robot's wires on a board's pins: found where there is a way, refused only where there is none."""

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from mixer.board.kinds.kind import Board, Pin, Use, names_of
from mixer.board.kinds.known import BOARDS, board_named
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.line import baud_for, frame_bytes
from mixer.board.wiring.reasons import reason, remedies
from mixer.board.wiring.search import Places, Search, Short
from mixer.board.wiring.settings import fingerprint_of
from mixer.board.wiring.table import toml_lines
from mixer.board.wiring.wires import SERIAL, Wire
from mixer.errors import OptionError
from mixer.profile.profile import Profile, load_profile, parse_profile
from mixer.profile.schema.guarding import About
from tests.lengths import examples

PROFILES = Path(__file__).parents[2] / "profiles"
AVR, RP = BOARDS["atmega328p"], BOARDS["rp2040"]


def wires(counts: Mapping[Use, int], tops: Sequence[int] = (), bridges: Sequence[int] = ()) -> list[Wire]:
    """So many wires of each use, a duty for each top, and for each bridge's top a duty for either input."""
    made = [
        Wire(use, (use.name.lower(), str(n), "pin"), f"{use} {n}", number=n)
        for use, count in counts.items()
        for n in range(1, count + 1)
    ]
    made += [Wire(Use.DUTY, ("duty", str(n), "pin"), "", number=n, top=top) for n, top in enumerate(tops)]
    made += [
        Wire(Use.DUTY, ("bridge", str(n), key), "", number=n, top=top)
        for n, top in enumerate(bridges)
        for key in ("pin", "direction_pin")
    ]
    return [*made, SERIAL]


def bridges_of(asked: Sequence[Wire]) -> list[tuple[Wire, Wire]]:
    """Both inputs of each bridge: they want one timer."""
    inputs = [wire for wire in asked if wire.key[0] == "bridge"]
    return list(zip(inputs[::2], inputs[1::2], strict=True))


def is_whole(board: Board, asked: Sequence[Wire], places: Places) -> bool:
    """Whether every wire has a pin that can have it, no pin two wires, no timer two periods."""
    pins = list(places.values())
    alike = len(set(pins)) == len(pins) and set(places) == set(asked)
    can = all(wire.use in pin.uses for wire, pin in places.items())
    pwm = [(wire, pin) for wire, pin in places.items() if wire.use in (Use.SERVO, Use.DUTY)]
    sides = {(pin.unit, pin.side) for _, pin in pwm}
    periods = {(pin.unit, wire.top) for wire, pin in pwm}
    tops = all(wire.use == Use.SERVO or _counts(board, pin, wire.top) for wire, pin in pwm)
    together = all(places[one].unit == places[other].unit for one, other in bridges_of(asked))
    own = len(sides) == len(pwm) and len(periods) == len({u for u, _ in periods})
    return alike and can and tops and together and own


def _counts(board: Board, pin: Pin, top: int) -> bool:
    tops = board.unit(pin.unit).tops
    return tops is not None and tops[0] <= top <= tops[1]


def solvable(board: Board, asked: Sequence[Wire]) -> bool:
    """The same question as a linear programme in whole numbers (scipy's HiGHS), written apart.

    An unknown for each wire on each pin, and for each timer in each period, each 0 or 1.
    """
    pairs = [
        (wire, pin)
        for wire in asked
        for pin in board.pins
        if wire.use in pin.uses and (wire.use != Use.DUTY or _counts(board, pin, wire.top))
    ]
    pwm = [pair for pair in pairs if pair[0].use in (Use.SERVO, Use.DUTY)]
    modes = sorted({(pin.unit, wire.top) for wire, pin in pwm})
    rows: list[list[int]] = []
    low: list[float] = []
    high: list[float] = []

    def row(least: float, most: float, inside: Callable[[Wire, Pin], int], *idle: tuple[str, int]) -> None:
        rows.append([int(inside(*pair)) for pair in pairs] + [-int(mode in idle) for mode in modes])
        low.append(least)
        high.append(most)

    for wire in asked:
        row(1, 1, lambda each, _, wire=wire: each == wire)
    for pin in board.pins:
        row(0, 1, lambda _, each, pin=pin: each == pin)
    for unit, side in {(pin.unit, pin.side) for _, pin in pwm}:
        row(0, 1, lambda each, pin, at=(unit, side): (each, pin) in pwm and (pin.unit, pin.side) == at)
    for wire, pin in pwm:
        row(-1, 0, lambda each, there, pair=(wire, pin): (each, there) == pair, (pin.unit, wire.top))
    for unit in {unit for unit, _ in modes}:
        row(-1, 0, lambda _, __: False, *[mode for mode in modes if mode[0] == unit])
    for one, other in bridges_of(asked):
        for unit in {pin.unit for _, pin in pwm}:
            row(
                0,
                0,
                lambda each, pin, pair=(one, other), at=unit: (
                    ((each == pair[0]) - (each == pair[1])) * (pin.unit == at)
                ),
            )
    if not all(any(each == wire for each, _ in pairs) for wire in asked):
        return False
    count = len(pairs) + len(modes)
    bounds = LinearConstraint(np.array(rows), low, high)
    return bool(
        milp(np.zeros(count), constraints=bounds, integrality=np.ones(count), bounds=Bounds(0, 1)).success
    )


@given(
    st.sampled_from(sorted(BOARDS)),
    st.dictionaries(st.sampled_from([Use.CHANNEL, Use.CONTACT, Use.DIRECTION]), st.integers(0, 8)),
    st.integers(0, 6),
    st.lists(st.sampled_from([255, 255, 255, 1000, 4095]), max_size=8),
    st.lists(st.sampled_from([255, 255, 1000]), max_size=5),
)
@examples(6, 400)
def test_the_search_agrees_with_a_solver(
    key: str, counts: dict[Use, int], servos: int, tops: list[int], bridges: list[int]
) -> None:
    """It finds a wiring exactly where a solver says that there is one, and what it finds is one."""
    board, asked = BOARDS[key], wires(counts | {Use.SERVO: servos}, tops, bridges)
    places = Search(board, asked, {}, {}).places()
    assert solvable(board, asked) != isinstance(places, Short)
    if not isinstance(places, Short):
        assert is_whole(board, asked, places)


@pytest.mark.parametrize("number", range(7))
def test_two_pins_of_one_signal_are_never_both_given(number: int) -> None:
    """GP n and GP n + 16 carry the same PWM: seventeen outputs do not fit sixteen signals."""
    asked = wires({Use.SERVO: 16})
    fixed = {asked[0]: RP.pins[number]}
    places = Search(RP, asked, fixed, {}).places()
    assert not isinstance(places, Short)
    assert is_whole(RP, asked, places)
    assert isinstance(Search(RP, wires({Use.SERVO: 17}), {}, {}).places(), Short)


def robot(text: str) -> Profile:
    """A tank with more in it, for no board by name."""
    lines = (PROFILES / "tank_pair.toml").read_text().splitlines()
    kept = [line for line in lines if not line.startswith("board")]
    return parse_profile("\n".join([*kept, text]), "p.toml")


def pin_of(made: Wiring, *key: str) -> str:
    """Where the wire of a key goes."""
    return next(pin.name for wire, pin in made.places.items() if wire.key == key)


def outputs(count: int) -> str:
    """So many more servo pulses, whose pins are those of no other."""
    free = [pin for pin in range(28) if pin not in (9, 10, 23, 24, 25)]
    return "".join(f"[output.o{n}]\npin = {free[n]}\nmix = {{ throttle = 1.0 }}\n" for n in range(count))


TWELVE = outputs(10)


def problems(profile: Profile, board: Board) -> str:
    """What is wrong with the given pins, on one line."""
    made = fit(profile, None, board)
    assert isinstance(made, Misfit)
    return " | ".join(" ".join(str(problem).split()) for problem in made.problems)


def test_the_smallest_robot_fits_either_board_and_keeps_its_pins() -> None:
    """Pins that the profile gives are kept, the others assigned, always alike."""
    profile = load_profile(PROFILES / "tank_pair.toml")
    found = [fit(profile, None, AVR) for _ in range(2)]
    assert all(isinstance(made, Wiring) for made in found)
    first, again = found
    assert isinstance(first, Wiring)
    assert isinstance(again, Wiring)
    assert pin_of(first, "output", "left", "pin") == "PB1"
    assert fingerprint_of(first) == fingerprint_of(again)
    assert first.channels == 5


def test_what_is_pasted_gives_the_same_wiring() -> None:
    """The TOML lines put into the profile leave nothing to assign but serial line and tick."""
    before = load_profile(PROFILES / "tank_pair.toml")
    made = fit(before, None, AVR)
    assert isinstance(made, Wiring)
    text = before.text
    table = ""
    for line in toml_lines(made):
        if line.startswith("["):
            table = line
        elif line:
            text = text.replace(f"{table}\n", f"{table}\n{line}\n", 1)
    after = fit(parse_profile(text, "p.toml"), None, AVR)
    assert isinstance(after, Wiring)
    assert fingerprint_of(after) == fingerprint_of(made)
    assert {wire.use for wire in after.assigned} == {Use.SERIAL_OUT, Use.TICK}
    assert toml_lines(after) == []


_TILT = '[contact.a]\npin = "{}"\n[flip]\ncontact = "a"\nreverses = ["throttle"]\n'
_MORE = "[output.c]\npin = 5\nmix = {{ throttle = 1.0 }}\n{}"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (_TILT.format("D99"), "has no pin 'D99'"),
        (_TILT.format("A6"), "pin A6 of the ATmega328P cannot have a contact"),
        (_TILT.format("PB2"), "pin D10 is already taken by output.right.pin, under another name"),
        (
            _MORE.format(""),
            "D5 of the ATmega328P cannot have a servo pulse remedy: those that can: D9, D10",
        ),
        (
            _MORE.format('wire = "duty"\ntop = 1000\n'),
            "cannot have a duty of 1000 counts remedy: full may be 255 counts: write top to suit",
        ),
    ],
)
def test_given_pins_that_cannot_be_are_told_with_line_and_remedy(text: str, said: str) -> None:
    """Pins that this board has not, or not for this wire, or twice."""
    told = problems(robot(text), AVR)
    assert re.match(r"p\.toml:\d+: (contact|output)\.\w+\.pin: ", told)
    assert said in told
    assert "remedy:" in told


def test_timers_that_are_shared_are_told() -> None:
    """On the RP2040 a servo pulse and a duty on one slice, and two pins of one signal."""
    duty = '[output.c]\npin = {}\nwire = "duty"\nmix = {{ throttle = 1.0 }}\n'
    assert "shares slice 4 and its period with output.left.pin" in problems(robot(duty.format(8)), RP)
    pulse = "[output.c]\npin = 26\nmix = { throttle = 1.0 }\n"
    assert "gives the same signal as GP10, which is output.right.pin" in problems(robot(pulse), RP)


def test_what_is_short_is_said_with_what_was_found_to_help() -> None:
    """Six pulses do not fit two compare units; the RP2040 was tried and carries them."""
    profile = load_profile(PROFILES / "long_crawler.toml")
    made = fit(profile, None, AVR, anew=True)
    assert isinstance(made, Misfit)
    assert (
        reason(made) == "6 servo pulses want a pin each, and there are 2 pins that can have them: D9, D10"
    )
    (remedy,) = remedies(profile, None, AVR)
    assert (remedy.wiring.board.key, remedy.words, remedy.change) == ("rp2040", "", "as it is")
    assert not any(wire.key[0] == "output" for wire in remedy.wiring.assigned)


def test_what_helps_keeps_the_pins_that_the_profile_gives_if_they_can_be_kept() -> None:
    """The RP2040's own pins where it is offered in place of another board; others where those cannot be."""
    text = '[output.c]\npin = "GP8"\nwire = "duty"\nmix = { throttle = 1.0 }\n' + outputs(1)
    changes = [each.change for each in remedies(robot(text), None, RP)]
    assert changes == ["with other pins"]


def test_a_tick_that_is_too_short_is_told_with_one_that_is_not() -> None:
    """The firmware's shortest was tried, on either board."""
    text = (PROFILES / "tank_pair.toml").read_text().replace("tick_ms = 2", "tick_ms = 1")
    profile = parse_profile(text, "p.toml")
    made = fit(profile, None, AVR)
    assert isinstance(made, Misfit)
    assert reason(made) == "its tick is 1 ms, and the firmware's 2 ms at least"
    assert [each.change for each in remedies(profile, None, AVR)] == ["with tick_ms = 2"] * 2


def test_only_wires_that_are_in_each_others_way_are_named() -> None:
    """Duties that no pin can have are another matter than pulses that are too many; pins stand in order."""
    asked = wires({Use.SERVO: 3}, [1000] * 2)
    short = Search(AVR, asked, {}, {}).places()
    assert isinstance(short, Short)
    assert reason(Misfit(AVR, short=short)).startswith("3 servo pulses want a pin each")
    short = Search(AVR, asked[3:], {}, {}).places()
    assert isinstance(short, Short)
    assert reason(Misfit(AVR, short=short)) == (
        "2 duties of 1000 counts want a pin each, and no free one can have them"
    )
    short = Search(AVR, wires({Use.CONTACT: 8, Use.CHANNEL: 8, Use.DIRECTION: 8}), {}, {}).places()
    assert isinstance(short, Short)
    assert reason(Misfit(AVR, short=short)).endswith(": D2 to D13, A0 to A5")


def test_a_pulse_sum_wire_is_offered_where_channels_are_too_many() -> None:
    """Channel 12 has no wire of its own on any board; by pulse-sum it has."""
    text = '[switch.x]\nreceiver = 12\n[flip]\nswitch = "x"\nposition = "on"\nreverses = ["throttle"]\n'
    made = fit(robot(text), None, AVR)
    assert isinstance(made, Misfit)
    assert (
        reason(made)
        == "it reads receiver channel 12, and the firmware has wires for receiver channels 1 to 8"
    )
    helps = list(remedies(robot(text), None, AVR))
    assert [each.words for each in helps] == ['[receiver] wire = "pulse-sum"'] * 2
    assert helps[0].wiring.channels == 12


def test_a_loadout_keeps_the_pins_of_the_base_robot() -> None:
    """What both have goes where it was; what is new takes a pin of its own."""
    profile = load_profile(PROFILES / "long_crawler.toml")
    base, other = fit(profile, None, RP, anew=True), fit(profile, "by_hand", RP, anew=True)
    assert isinstance(base, Wiring)
    assert isinstance(other, Wiring)
    before = {wire.key: pin for wire, pin in base.places.items()}
    after = {wire.key: pin for wire, pin in other.places.items()}
    assert all(after[key] == before[key] for key in after if key in before)
    assert after["switch", "belly", "pin"] not in before.values()


def test_pins_of_another_board_are_assigned_anew() -> None:
    """A profile that names its board keeps its pins for that one."""
    made = fit(load_profile(PROFILES / "tank_pair.toml"), None, RP)
    assert isinstance(made, Wiring)
    assert made.assigned == frozenset(made.places)


def test_a_bridge_with_two_inputs_has_two_duties() -> None:
    """Its second input is a PWM pin of its own."""
    text = '[output.c]\npin = 5\nwire = "duty"\nbridge = "two-inputs"\nmix = { throttle = 1.0 }\n'
    made = fit(robot(text), None, AVR)
    assert isinstance(made, Wiring)
    assert pin_of(made, "output", "c", "direction_pin") == "PD6"


BRIDGE = """[output.c]
pin = 5
direction_pin = {}
wire = "duty"
bridge = "two-inputs"
mix = {{ throttle = 1.0 }}
"""


def test_both_inputs_of_a_bridge_go_on_one_slice() -> None:
    """As the RP2040's firmware gives them; pins given on two are refused, with those that can be."""
    told = problems(robot(BRIDGE.format(6)), RP)
    assert "pin GP6 is on slice 3, and its bridge's other input, GP5, on slice 2" in told
    assert "on one slice only: take GP4, GP20" in told
    made = fit(robot(BRIDGE.format(20)), None, RP)
    assert isinstance(made, Wiring)


@pytest.mark.parametrize("bridges", range(1, 9))
def test_bridges_find_slices_whatever_else_wants_one(bridges: int) -> None:
    """Every slice that is no bridge's gives two other duties, and one more is refused with the reason."""
    others = 16 - 2 * bridges
    asked = wires({}, [255] * others, [255] * bridges)
    places = Search(RP, asked, {}, {}).places()
    assert not isinstance(places, Short)
    assert is_whole(RP, asked, places)
    odd = wires({}, [255] * (others + 1), [255] * (bridges - 1) + [1000])
    short = Search(RP, odd, {}, {}).places()
    assert isinstance(short, Short)
    assert reason(Misfit(RP, short=short))


def test_the_line_is_as_fast_as_the_tick_needs() -> None:
    """A frame of five channels and six outputs is 39 bytes (FRAMES.md): too long for 2 ms at 115200 Bd."""
    assert frame_bytes(5, 6) == 39
    assert baud_for(AVR, 5, 6, 10) == 115_200
    assert baud_for(AVR, 5, 6, 2) == 500_000
    assert baud_for(replace(AVR, bauds=(9600,)), 5, 6, 2) is None


def test_every_board_is_sound() -> None:
    """Names and numbers mean one pin each, PWM pins have a timer, and the schema knows the board."""
    for board in BOARDS.values():
        words = [word for pin in board.pins for word in names_of(pin)]
        assert len(set(words)) == len(words) - sum(pin.name == pin.label for pin in board.pins)
        assert len({pin.number for pin in board.pins}) == len(board.pins)
        for pin in board.pins:
            assert bool(pin.unit) == bool(pin.uses & {Use.SERVO, Use.DUTY})
            assert not pin.unit or board.unit(pin.unit)
        sides = {(pin.unit, pin.side) for pin in board.pins if pin.unit}
        assert all(count == 2 for count in Counter(unit for unit, _ in sides).values())
        for use, names in board.first.items():
            assert all(use in pin.uses for name in names if (pin := board.pin(name)))
            assert all(board.pin(name) for name in names)
    known = About.model_json_schema()["properties"]["board"]["anyOf"][0]["enum"]
    assert sorted(known) == sorted(BOARDS)


def test_an_unknown_board_is_refused_with_the_list() -> None:
    """Bad input on the command line."""
    with pytest.raises(OptionError, match="atmega328p, rp2040"):
        board_named("nosuch")


def test_a_search_that_takes_too_long_claims_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a fit nor a proof that there is none: it says what to give."""
    monkeypatch.setattr("mixer.board.wiring.search.MOST_STEPS", 2)
    made = fit(robot(outputs(9)), None, RP)
    assert isinstance(made, Misfit)
    assert reason(made) == "the search for pins took too long: give the pins of the outputs"


def test_twelve_servo_pulses_fit_the_larger_board() -> None:
    """Twelve of its sixteen PWM signals, and the rest as before."""
    made = fit(robot(TWELVE), None, RP)
    assert isinstance(made, Wiring)
    assert is_whole(RP, tuple(made.places), dict(made.places))
    too_many = fit(robot(outputs(15)), None, RP, anew=True)
    assert isinstance(too_many, Misfit)
    assert reason(too_many) == "it has 17 outputs, and the firmware 16 at most"


@pytest.mark.parametrize(
    ("valid", "fits"),
    [("[800, 2200]", True), ("[401, 2500]", True), ("[400, 2200]", False), ("[800, 2501]", False)],
)
def test_a_train_carries_no_pulse_that_is_a_gap_or_a_missing_channel(valid: str, fits: bool) -> None:
    """400 µs are a missing channel, and a long slot comes near the gap; wires of their own carry both."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    for wire in ("pulse-sum", "channels"):
        section = f'[receiver]\nwire = "{wire}"\nvalid_us = {valid}\n\n[stick.throttle]'
        found = fit(parse_profile(text.replace("[stick.throttle]", section, 1), "robot"), None, AVR)
        assert isinstance(found, Wiring) is (fits or wire == "channels")
        if isinstance(found, Misfit):
            assert [problem.key for problem in found.problems] == ["receiver.valid_us"]
