"""What a robot's firmware takes of its board, from the compiled image: the tick's time, flash, RAM."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.board.image.elf import Image
from mixer.board.image.ticktime import TickTime
from mixer.board.kinds.kind import Board
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.project.timing import firmware_time
from mixer.board.wiring.fit import Wiring
from mixer.errors import ImageError, MissingToolError
from mixer.profile.profile import Profile


@dataclass(frozen=True)
class Burden:
    """What was found out; what was not stands in `unknown` with the reason."""

    board: Board
    time: TickTime | None
    """At most how long the mix and a whole round of the firmware take."""
    flash_bytes: int | None
    ram_bytes: int | None
    """What variables take; the stack comes on top."""
    unknown: tuple[str, ...]
    """What could not be found out, and why."""
    too_large: str = ""
    """Why there is no program at all: it goes beyond the board's memory."""

    @property
    def fits(self) -> bool:
        """Whether nothing that is known exceeds the board."""
        return not any(self.against())

    def against(self) -> Iterator[str]:
        """What exceeds the board, a sentence each."""
        if self.too_large:
            yield self.too_large
        if self.time is not None and not self.time.fits:
            yield self.time.late
        for what, bytes_, room in (
            ("flash", self.flash_bytes, self.board.flash_bytes),
            ("RAM", self.ram_bytes, self.board.ram_bytes),
        ):
            if bytes_ is not None and bytes_ > room:
                yield f"{bytes_:,} bytes of {what} are wanted, and there are {room:,}"

    def words(self) -> Iterator[str]:
        """One sentence for each thing found out."""
        if self.time is not None:
            first, *others = self.time.lines()
            yield f"proven from the compiled image: {first}"
            yield from others
        if self.flash_bytes is not None:
            yield f"flash: {self.flash_bytes:,} of {self.board.flash_bytes:,} bytes"
        if self.ram_bytes is not None:
            rest = self.board.stack_bytes or self.board.ram_bytes - self.ram_bytes
            yield f"RAM: {self.ram_bytes:,} of {self.board.ram_bytes:,} bytes; the stack has {rest:,}"


def burden_of(profile: Profile, loadout: str | None, wiring: Wiring, *, tables: bool = True) -> Burden:
    """Build the firmware and look at it; without make or the board's compiler it says that it could not.

    `tables` as for `sources_of`: with and without are two programs, of other times and sizes.
    """
    board = wiring.board
    try:
        image = image_of_project(sources_of(profile, loadout, wiring, tables=tables), board)
    except MissingToolError as error:
        said = f"time, flash and RAM were not checked: {error.said} ({error.remedy})"
        return Burden(board, None, None, None, (said,))
    except ImageError as error:
        return Burden(board, None, None, None, (), f"{error.said} ({error.remedy})")
    unknown: list[str] = []
    time: TickTime | None = None
    try:
        time = firmware_time(profile, loadout, wiring, image)
    except ImageError as error:
        unknown.append(f"the firmware's time has no bound: {error.said}")
    return Burden(
        board, time, sum(len(part.data) for part in image.parts), _ram(image, board), tuple(unknown)
    )


def _ram(image: Image, board: Board) -> int:
    """From the beginning of RAM to the end of what the program keeps there."""
    ends = [
        symbol.address + symbol.size - board.ram_at
        for symbol in image.symbols.values()
        if board.ram_at <= symbol.address < board.ram_at + board.ram_bytes
    ]
    return max(ends, default=0)
