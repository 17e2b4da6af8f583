"""A robot's own image on a simulated chip: chosen board, wiring, build, and a chip that runs it.

flashed = flash(profile, loadout, "rp2040")
run = flashed.power_up()
"""

from dataclasses import dataclass

from mixer.board.chip.known import chip_of
from mixer.board.engine.run import ImageRun
from mixer.board.image.elf import Image
from mixer.board.kinds.kind import Board
from mixer.board.kinds.known import BOARDS, board_named
from mixer.board.pins.of_wiring import pins_of
from mixer.board.pins.wires import Pins
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.wiring.divider import full_pack_v
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.reasons import reason
from mixer.core.plan import Plan
from mixer.errors import ProfileError
from mixer.profile.profile import Profile
from mixer.profile.read.complaint import Complaint


@dataclass(frozen=True)
class Flashed:
    """One robot's image for one board."""

    plan: Plan
    fingerprint: str
    wiring: Wiring
    pins: Pins
    image: Image

    @property
    def board(self) -> Board:
        """What it is for."""
        return self.wiring.board

    def power_up(self, seed: int = 1) -> ImageRun:
        """A chip that runs it, from power-up until it is ready for rows; its battery is full.

        Raises MissingToolError without the simulator, ChipError for an image that says nothing.
        """
        levels = [contact.level(closed=False) for contact in self.plan.contacts]
        battery = self.wiring.robot.battery
        full_mv = round(full_pack_v(battery) * 1000) if battery is not None else 0
        chip = chip_of(self.board.key, self.image, seed)
        return ImageRun(chip, self.pins, self.plan.tick_ms, levels, battery_mv=full_mv)


def flash(profile: Profile, loadout: str | None, board: str | None = None) -> Flashed:
    """Build the firmware of one loadout.

    Without a board's key it is the profile's own, else the smallest on which the robot fits.
    Raises OptionError for a board there is none of, ProfileError where the robot does not fit,
    MissingToolError without the board's compiler, ImageError where the program is too large for it.
    """
    wiring = wiring_for(profile, loadout, board)
    plan = profile.plan(loadout)
    image = image_of_project(sources_of(profile, loadout, wiring), wiring.board)
    return Flashed(plan, profile.fingerprint(loadout), wiring, pins_of(wiring, plan), image)


def wiring_for(profile: Profile, loadout: str | None, board: str | None) -> Wiring:
    """The wiring that `flash` takes; raises as it does."""
    key = board or profile.robot(loadout).robot.board
    boards = [board_named(key)] if key else sorted(BOARDS.values(), key=lambda each: each.flash_bytes)
    made = [fit(profile, loadout, each) for each in boards]
    for each in made:
        if isinstance(each, Wiring):
            return each
    last = made[-1]
    assert isinstance(last, Misfit)
    said = f"the robot does not fit the {last.board.name}: {reason(last)}"
    remedy = f"`check --board {last.board.key}` says what would help"
    whole = profile.problem(Complaint(("robot", "board"), said, remedy), loadout)
    raise ProfileError(last.problems or [whole])
