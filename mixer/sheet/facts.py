"""What the page tells: the results of those who found them out. Nothing here runs."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from mixer.board.image.ticktime import TickTime
from mixer.board.wiring.fit import Wiring
from mixer.core.plan import Plan
from mixer.failsafe.campaign.results import CampaignResult
from mixer.failsafe.proof.theorems import ProofResult
from mixer.failsafe.report.stop import Stop
from mixer.failsafe.report.warnings import Warned
from mixer.link.pit.report import PitResult
from mixer.link.rehearse.report import RehearsalResult
from mixer.profile.journal import Entry
from mixer.profile.read.fitting import fitting_of
from mixer.profile.schema.root import Robot
from mixer.sizing.report import SizeReport


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """Everything on the page. None means: not done for this sheet, and the page says so."""

    file: str
    """The profile's file name, for the commands that print full lists."""
    loadout: str | None
    robot: Robot
    plan: Plan
    profile_fingerprint: str
    code_fingerprint: str
    stop: Stop
    size: SizeReport
    proven: ProofResult | None = None
    simulated: CampaignResult | None = None
    rehearsed: RehearsalResult | None = None
    pit: PitResult | None = None
    tick: TickTime | None = None
    """The bound of the compiled program that was given, of this very mix."""
    journal: tuple[Entry, ...] = ()
    """The last lines of the profile's journal."""
    warnings: tuple[Warned, ...] = ()
    wiring: Wiring | None = None
    """On the board that the profile names; None where it names none or does not fit it."""

    def command(self, name: str, *options: str) -> str:
        """The command that prints a list in full."""
        return " ".join(("stickwright", name, self.file, *fitting_of(self.loadout).options, *options))


def code_fingerprint(files: Mapping[str, str]) -> str:
    """The first 16 hex digits of what ``cat mix.c mix.h | sha256sum`` prints in the export's folder."""
    text = files["mix.c"] + files["mix.h"]
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
