"""Everything that one robot's image shows at its pins under the campaign's faults and a chip's own."""

from dataclasses import dataclass, replace
from functools import partial

from pydantic import computed_field

from mixer.board.chip.known import chip_of
from mixer.board.engine.flashed import Flashed, flash
from mixer.board.image.fields import slots_of
from mixer.board.project.source import sources_of
from mixer.errors import OptionError
from mixer.failsafe.pins.chip_only import cases_of, lost_by_a_wrong_clock, scripts_for
from mixer.failsafe.pins.flips import Flip, flips
from mixer.failsafe.pins.loops import with_loops
from mixer.failsafe.pins.results import PinResult
from mixer.failsafe.pins.run import Progress, Rig, judged_scripts, lines_of, run_at_pins
from mixer.failsafe.pins.scripts import scripts_with
from mixer.failsafe.report.account import Options, request_of
from mixer.failsafe.report.stop import Stop, stop_of
from mixer.live.robot.robot import build_of
from mixer.profile.profile import Profile

DEFAULT_SCENARIOS = 300
BRIEF_S = 0.1
"""Scenarios last as long as the plan's own times need, and no longer."""


@dataclass(frozen=True, slots=True)
class PinsReport:
    """One loadout on one board."""

    robot: str
    loadout: str | None
    board: str
    fingerprint: str
    stop: Stop
    seed: int
    campaign: PinResult
    """The campaign's faults, as edges on pins."""
    chip: PinResult
    """What only a chip can have."""
    bits: tuple[Flip, ...]
    """A flipped bit each; empty where that was not asked for."""

    @computed_field
    @property
    def against(self) -> tuple[str, ...]:
        """What keeps the whole from being fine, a few words each."""
        told = {
            "something is BROKEN at the pins": self.campaign.broken or self.chip.broken,
            "EMPTY: next to nothing moved when the faults set in": self.campaign.idle,
        }
        return tuple(words for words, holds in told.items() if holds)


def report_at_pins(
    profile: Profile,
    loadout: str | None,
    board: str | None,
    options: Options,
    bits: bool,
    progress: Progress,
) -> PinsReport:
    """Build the image and play everything on it.

    Raises as `flash` and `chip_of` do, and OptionError for a robot whose wires cannot be judged.
    """
    flashed = _judgeable(flash(profile, loadout, board))
    build = build_of(profile, loadout)
    image, loops = with_loops(flashed.image)
    stop = stop_of(profile, loadout)
    rig = Rig(build.plan, stop, flashed.pins, lambda: chip_of(flashed.board.key, image), options.jobs)
    request = replace(request_of(build, options), seconds=BRIEF_S)
    healthy = list(scripts_with(request, "none"))
    scripts = list(scripts_for(list(cases_of(build.plan, loops)), healthy))
    scripts[:0] = lost_by_a_wrong_clock(list(scripts_with(request, "all-lost")))
    slots = list(slots_of(image, sources_of(profile, loadout, flashed.wiring)))
    ends = (0.5, 0.7, 1.0) if bits else (0.8, 1.0)
    campaign = run_at_pins(rig, request, partial(_tell, progress, 0.0, ends[0]))
    judged = judged_scripts(rig, scripts, partial(_tell, progress, *ends[:2]))
    chip = lines_of(rig, list(dict.fromkeys(script.fault for script in scripts)), judged)
    flipped = flips(rig, slots, healthy, partial(_tell, progress, *ends[1:])) if bits else ()
    name = build.robot.robot.name
    return PinsReport(
        name, loadout, flashed.board.name, flashed.fingerprint, stop, options.seed, campaign, chip, flipped
    )


def _judgeable(flashed: Flashed) -> Flashed:
    """The same. Raises OptionError where its wires are none that this can play or read."""
    if not flashed.pins.tick:
        raise OptionError(
            f"no pin of the {flashed.board.name} is left to show when each tick begins",
            "free a pin, or take a board with more of them (--board)",
        )
    return flashed


def _tell(progress: Progress, first: float, last: float, share: float) -> None:
    """How far a part of the work has come, as a share of all."""
    progress(first + share * (last - first))
