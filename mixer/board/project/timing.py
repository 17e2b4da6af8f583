"""How long the firmware that `export --board` writes takes at most, from its image."""

from dataclasses import replace

from mixer.board.image.bound import Interrupt, interrupt_of
from mixer.board.image.elf import Image
from mixer.board.image.processors import processor_of
from mixer.board.image.rounds import is_firmware, round_time
from mixer.board.image.ticktime import TickTime, tick_time
from mixer.board.kinds.known import board_called
from mixer.board.wiring.fit import Wiring, fit
from mixer.profile.profile import Profile


def program_time(profile: Profile, loadout: str | None, image: Image) -> TickTime:
    """The mix's time in any program that carries it; of a whole firmware that of its rounds as well.

    Raises ImageError with the one reason where there is no bound, or the mix is another.
    """
    if is_firmware(image):
        board = board_called(processor_of(image).name)
        wiring = fit(profile, loadout, board) if board is not None else None
        if isinstance(wiring, Wiring):
            return firmware_time(profile, loadout, wiring, image)
    return tick_time(image, profile.fingerprint(loadout), profile.plan(loadout).tick_ms)


def firmware_time(profile: Profile, loadout: str | None, wiring: Wiring, image: Image) -> TickTime:
    """The time of a robot's whole firmware as it is wired. Raises ImageError as `program_time` does."""
    board, tick_ms = wiring.board, profile.plan(loadout).tick_ms
    mix = tick_time(image, profile.fingerprint(loadout), tick_ms, hz=float(board.hz))
    whole = round_time(
        image,
        board.stack_room,
        tick_ms,
        hz=float(board.hz),
        interrupts=_interrupts(image, wiring),
        assumed=(_edges(wiring),),
    )
    return replace(mix, round=whole)


def _interrupts(image: Image, wiring: Wiring) -> list[Interrupt]:
    """The board's handlers at the most they can be called: all edges of a receiver's frame at once."""
    board = wiring.board
    one = interrupt_of(image, board.edge_handler, 1000 / wiring.robot.receiver.frame_ms)
    number = _edges_a_frame(wiring)
    found = [replace(one, name=f"{number} edges together", cycles=number * one.cycles)]
    found += [interrupt_of(image, name, often) for name, often in board.clock_handlers]
    once = 1000 / wiring.robot.robot.tick_ms
    return found + [interrupt_of(image, name, once) for name in board.loop_handlers]


def _edges_a_frame(wiring: Wiring) -> int:
    """Edges that the channels' wires make in one of the receiver's frames."""
    return 2 * wiring.channels + 2 * (wiring.robot.receiver.wire == "pulse-sum")


def _edges(wiring: Wiring) -> str:
    """The rate of edges, and what becomes of more."""
    receiver = wiring.robot.receiver
    return (
        f"channels' wires make no more than {_edges_a_frame(wiring)} edges in the receiver's "
        f"{receiver.frame_ms:g} ms; of more than it has room for, which is noise, it drops pulses and "
        "tells, and a tick may come late, which stops the robot"
    )
