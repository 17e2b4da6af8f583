"""What a robot's firmware takes of its board, from the compiled image: the tick's time, flash, RAM."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from mixer.board.image.bound import MIX_TICK, Interrupt, interrupt_of
from mixer.board.image.elf import Image
from mixer.board.image.ticktime import TickTime, tick_time
from mixer.board.kinds.kind import Board
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Wiring
from mixer.errors import ImageError, MissingToolError
from mixer.profile.profile import Profile


@dataclass(frozen=True)
class Burden:
    """What was found out; what was not stands in `unknown` with the reason."""

    board: Board
    time: TickTime | None
    """At most how long the mix takes in a tick, the board's interrupts counted where they have a bound."""
    flash_bytes: int | None
    ram_bytes: int | None
    """What variables take; the stack comes on top."""
    unknown: tuple[str, ...]
    """What could not be found out, and why."""

    @property
    def fits(self) -> bool:
        """Whether nothing that is known exceeds the board."""
        time = self.time is None or self.time.fits
        flash = self.flash_bytes is None or self.flash_bytes <= self.board.flash_bytes
        return time and flash and (self.ram_bytes is None or self.ram_bytes <= self.board.ram_bytes)

    def words(self) -> Iterator[str]:
        """One sentence for each thing found out."""
        if self.time is not None:
            yield f"the mix {self.time.words}, proven from the compiled image"
        if self.flash_bytes is not None:
            yield f"flash: {self.flash_bytes:,} of {self.board.flash_bytes:,} bytes"
        if self.ram_bytes is not None:
            rest = self.board.stack_bytes or self.board.ram_bytes - self.ram_bytes
            yield f"RAM: {self.ram_bytes:,} of {self.board.ram_bytes:,} bytes; the stack has {rest:,}"


def burden_of(profile: Profile, loadout: str | None, wiring: Wiring) -> Burden:
    """Build the firmware and look at it; without make or the board's compiler it says that it could not."""
    board = wiring.board
    try:
        image = image_of_project(sources_of(profile, loadout, wiring), board)
    except MissingToolError as error:
        said = f"time, flash and RAM were not checked: {error.said} ({error.remedy})"
        return Burden(board, None, None, None, (said,))
    unknown: list[str] = []
    interrupts = _interrupts(image, wiring, unknown)
    time: TickTime | None = None
    try:
        fingerprint, tick_ms = profile.fingerprint(loadout), profile.plan(loadout).tick_ms
        time = tick_time(
            image, fingerprint, tick_ms, routine=MIX_TICK, hz=float(board.hz), interrupts=interrupts
        )
    except ImageError as error:
        unknown.append(f"the mix's time has no bound: {error.said}")
    unknown.append("reading, outputs and frame take time besides the mix: measure it on the tick pin")
    return Burden(
        board, time, sum(len(part.data) for part in image.parts), _ram(image, board), tuple(unknown)
    )


def _interrupts(image: Image, wiring: Wiring, unknown: list[str]) -> list[Interrupt]:
    """The board's handlers at the most they can be called: all edges of a receiver's frame at once."""
    board, receiver = wiring.board, wiring.robot.receiver
    found: list[Interrupt] = []
    try:
        if board.edge_handler:
            edges = 2 * wiring.channels + 2 * (receiver.wire == "pulse-sum")
            one = interrupt_of(image, board.edge_handler, 1000 / receiver.frame_ms)
            found.append(replace(one, name=f"{edges} edges together", cycles=edges * one.cycles))
        found += [interrupt_of(image, name, often) for name, often in board.clock_handlers]
        once = 1000 / wiring.robot.robot.tick_ms
        found += [interrupt_of(image, name, once) for name in board.loop_handlers]
    except ImageError as error:
        unknown.append(f"interrupts are not counted: {error.said}")
        return []
    if not found:
        unknown.append("interrupts are not counted: their time has no bound on this board")
    return found


def _ram(image: Image, board: Board) -> int:
    """From the beginning of RAM to the end of what the program keeps there."""
    ends = [
        symbol.address + symbol.size - board.ram_at
        for symbol in image.symbols.values()
        if board.ram_at <= symbol.address < board.ram_at + board.ram_bytes
    ]
    return max(ends, default=0)
