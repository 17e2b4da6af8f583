"""What is known of a board's wires by the twelve digits that it tells: equal mixes, other pins."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from mixer.board.frames import Identity
from mixer.board.kinds.known import BOARDS
from mixer.board.project.project import project_of
from mixer.board.wiring.aboard import Wires, WiresAboard, wired_as, wires_aboard
from mixer.board.wiring.fit import Wiring, fit
from mixer.board.wiring.settings import fingerprint_of, settings_of
from mixer.profile.aboard import FLASH, Tunings
from mixer.profile.exported import exported_of, keep
from mixer.profile.profile import Profile, parse_profile
from tests.link.identities import identity_of

ROBOT = """
[robot]
name = "shunter"
tick_ms = 4
board = "rp2040"

[receiver]
wire = "pulse-sum"
pin = 20
channels = 6

[stick.throttle]
receiver = 1

[output.left]
wire = "duty"
top = 255
pin = 0
direction_pin = 1
bridge = "direction"
at_zero = "coast"
mix = { throttle = 1.0 }

[output.right]
pin = 4
mix = { throttle = 1.0 }

[contact.belly]
pin = 22

[flip]
contact = "belly"
reverses = ["throttle"]

[battery]
cells = 2
capacity_ah = 1.3
resistance_ohm = 0.03
pin = 26
divider_kohm = [33, 10]
"""
"""An invention: a wire of every kind."""
CHANGES = {
    "a pin": ("pin = 4", "pin = 6", "pin of right: GP4 -> GP6"),
    "a direction pin": ("direction_pin = 1", "direction_pin = 8", "second pin of left: GP1 -> GP8"),
    "the bridge": (
        'bridge = "direction"',
        'bridge = "two-inputs"',
        "wire of left: duty and direction -> two duties",
    ),
    "the divider": ("[33, 10]", "[47, 10]", "battery's full scale: 14.19 V -> 18.81 V"),
    "the battery's pin": ("pin = 26", "pin = 27", "pin of the battery: GP26 -> GP27"),
    "the receiver's pin": ("pin = 20", "pin = 21", "pin of the receiver: GP20 -> GP21"),
    "a contact's pin": ("pin = 22", "pin = 19", "pin of contact 1: GP22 -> GP19"),
    "the train": ("channels = 6", "channels = 7", "receiver channels: 6 -> 7"),
    "the line's speed": ("channels = 6", "channels = 16", "serial line: 250000 baud -> 500000 baud"),
}


def robot(text: str = ROBOT) -> Profile:
    """The robot, or one with another text."""
    return parse_profile(text, "shunter.toml")


def wired(profile: Profile) -> Wiring:
    """On its board."""
    made = fit(profile, None, BOARDS["rp2040"])
    assert isinstance(made, Wiring)
    return made


@pytest.fixture
def exported(tmp_path: Path) -> Path:
    """The robot's file, from which a board was exported and flashed."""
    path = tmp_path / "shunter.toml"
    path.write_text(ROBOT, encoding="utf-8")
    keep(replace(robot(), path=path), None, tmp_path / "project", wired_as(wired(robot())))
    return path


def known(said: Identity, now: Profile, path: Path | None = None) -> WiresAboard:
    """What is known of it, with this profile in use."""
    found = wires_aboard(Tunings(now, path=path), said)
    assert found is not None
    return found


def test_every_line_of_wiring_h_is_in_the_fingerprint() -> None:
    """What the firmware is built with is what is hashed: no define but the fingerprint is left out."""
    header = project_of(robot(), None, wired(robot()), Path("out")).files["wiring.h"]
    lines = set(re.findall(r"^#define (\w+) ", header, re.MULTILINE))
    assert lines - {"WIRING_FINGERPRINT"} == {setting.macro for setting in settings_of(wired(robot()))}
    for setting in settings_of(wired(robot())):
        assert re.search(rf"^#define {setting.macro} .*\b{setting.number}\b", header, re.MULTILINE), setting


@pytest.mark.parametrize("change", CHANGES)
def test_the_same_mix_on_other_wires_is_told_with_what_changed(change: str, exported: Path) -> None:
    """Exported, flashed, then changed here and not flashed: the mix's fingerprint knows nothing of it."""
    old, new, words = CHANGES[change]
    assert old in ROBOT
    now = robot(ROBOT.replace(old, new))
    said = identity_of(robot(), board="rp2040")
    assert now.fingerprint() == said.fingerprint
    assert fingerprint_of(wired(now)) != said.wiring

    found = known(said, now, exported)
    assert found.wires is Wires.OTHER
    assert words in list(map(str, found.changes))
    assert f"wiring {said.wiring}, exported 20" in found.words()
    assert (found.remedy(), "since then: " in found.words()) == (FLASH, True)
    assert known(said, robot(), exported) == WiresAboard(Wires.THIS, said.wiring or "", said.wiring or "")


def test_what_was_edited_here_is_known_without_an_export(exported: Path) -> None:
    """The profile's file as the board has it, the pins turned since; of a wiring seen nowhere, no guess."""
    now = robot(ROBOT.replace("pin = 4", "pin = 6"))
    exported_of(exported).unlink()
    said = identity_of(robot(), board="rp2040")
    found = wires_aboard(Tunings(now, None, (("the file", robot()),), exported), said)
    assert found is not None
    assert found.what == ", the file"
    assert list(map(str, found.changes)) == ["pin of right: GP4 -> GP6"]
    alone = known(said, now, exported)
    assert (alone.wires, alone.changes) == (Wires.OTHER, ())
    assert alone.words().endswith(f"in use is {alone.here}; what differs is not known here")


def test_firmware_that_does_not_say_its_wires_is_never_right(exported: Path) -> None:
    """Told as older, with what has changed since that mix was exported, even where no wiring was kept."""
    old = replace(identity_of(robot(), board="rp2040"), wiring=None)
    found = known(old, robot(), exported)
    assert (found.wires, found.remedy(), found.changes) == (Wires.UNTOLD, FLASH, ())
    assert "older and does not say for which wires" in found.words()
    now = robot(ROBOT.replace("pin = 4", "pin = 6"))
    place = exported_of(exported)
    for kept in (place.read_text(), re.sub(r',"wired":.*', "}", place.read_text())):
        place.write_text(kept)
        assert list(map(str, known(old, now, exported).changes)) == ["pin of right: GP4 -> GP6"]


def test_what_cannot_be_compared_is_said_and_not_called_right() -> None:
    """A bare reader, a board of somebody's own, a robot that does not fit that board; no mix, no word."""
    said = identity_of(robot(), board="rp2040")
    bare = known(replace(said, wiring=""), robot())
    assert (bare.wires, bare.remedy()) == (Wires.NONE, "")
    assert "drives nothing" in bare.words()
    own = known(replace(said, board="Homemade"), robot())
    assert (own.wires, own.remedy()) == (Wires.UNKNOWN, "")
    assert "whether its wires are right is not known: no board Homemade" in own.words()
    more = (
        f'[output.more{n}]\npin = {n}\nwire = "duty"\nmix = {{ throttle = 1.0 }}\n' for n in (2, 6, 8, 10)
    )
    wide = robot(ROBOT + "".join(more))
    unfit = known(replace(said, board="ATmega328P"), wide)
    assert unfit.wires is Wires.OTHER
    assert "this robot does not fit it" in unfit.words()
    assert wires_aboard(Tunings(robot()), replace(said, fingerprint="")) is None
