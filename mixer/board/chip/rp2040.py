"""A simulated RP2040: the npm package rp2040js in a process of Node.js, under a run loop of ours.

    chip = Rp2040Chip(image_of(elf_bytes, "firmware.elf"))
    frames = Decoder().feed(bytes(byte for byte, _ in chip.run(until=chip.hz).sent))

What our scripts in ``rp2040js/`` put right in it, and what neither has, stands at the head of each. Each
question and each answer is a line of JSON; a run is one question, so its loop is all in one process.
"""

import json
import os
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import IO, Any, cast

from mixer.board.chip.chip import Edge, Reset, Seen, Train, in_turn
from mixer.board.chip.node import NODE, SCRIPTS, simulator_folder
from mixer.board.image.elf import Image, Machine
from mixer.errors import ChipError, ImageError, MissingToolError
from mixer.lower.run.toolchain import find

HZ = 128_000_000
PINS = tuple(f"GP{number}" for number in range(30))
_NUMBERS = {name: number for number, name in enumerate(PINS)}
_FLASH = range(0x10000000, 0x11000000)
_RAM = range(0x20000000, 0x20042000)
_FIRST_ANALOG = 26


class Rp2040Chip:
    """One RP2040 with a 12 MHz crystal, its RAM random at power-up as in life.

    `baud` is the rate at which the serial port is listened to: bytes that a port at that rate would not
    understand come as it would read them, or not at all. 0 takes them all.
    Raises MissingToolError that says what to install, ImageError for an image of another chip.
    """

    hz = HZ

    def __init__(self, image: Image, seed: int = 1, baud: int = 0) -> None:
        parts = [[part.flashed_at, part.data.hex()] for part in image.parts if part.flashed_at in _FLASH]
        if image.machine != Machine.ARM or not parts:
            raise ImageError(f"{image.where} is no program for an RP2040", "build it for this board")
        self._image = image
        self._cycle = 0
        self._last = 0
        self._analog: dict[int, int] = {}
        """What analog inputs have from the next run on: nothing else notices them."""
        self._said = tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace")  # noqa: SIM115 - by close
        command = [*find(NODE), str(SCRIPTS / "serve.mjs"), str(simulator_folder()), str(os.getpid())]
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._said, text=True,
            start_new_session=True,
        )  # fmt: skip
        self._questions = cast("IO[str]", self._process.stdin)
        self._answers = cast("IO[str]", self._process.stdout)
        try:
            self._ask("load", parts=parts, seed=seed, baud=baud)
        except ChipError as error:
            raise MissingToolError(
                f"{NODE.what} does not run the simulator: {error.said}", NODE.install
            ) from None

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        return self._cycle

    def run(self, until: int, edges: Sequence[Edge] = ()) -> Seen:
        """Run to a cycle (an instruction may end a few later), driving pins from outside.

        Raises ChipError for a program that does what this chip does not have; ValueError for edges that are
        not in order of time.
        """
        flat = self._checked(edges)
        answer = self._ask("run", until=until, edges=flat, analog=[*self._analog.items()])
        self._analog.clear()
        self._cycle = answer["cycle"]
        if "faults" in answer:
            raise ChipError(f"{self._image.where}: {answer['faults'][0]}", "mend the program")
        return Seen(
            in_turn(Edge(cycle, PINS[pin], level) for cycle, pin, level in _rows(answer["edges"], 3)),
            sorted(
                Train(cycle, PINS[pin], high, period, repeats)
                for cycle, pin, high, period, repeats in _rows(answer["trains"], 5)
            ),
            [(byte, cycle) for byte, cycle in _rows(answer["sent"], 2)],
            [(cycle, Reset(reason)) for cycle, reason in _rows(answer["resets"], 2)],
        )

    def set_analog_mv(self, pin: str, millivolts: int) -> None:
        """Put a voltage on an analog input, GP26 to GP29; it reads against 3300 mV."""
        self._analog[_NUMBERS[pin] - _FIRST_ANALOG] = millivolts

    def send(self, data: bytes, at: int) -> None:
        """Bytes into its serial input, one after the other at `baud` or 115200, the first at a cycle."""
        self._ask("send", hex=data.hex(), at=at)

    def peek(self, symbol: str) -> bytes:
        """A variable's bytes now. Raises KeyError for a name the image does not have."""
        size = self._image.symbols[symbol].size
        answer = self._ask("peek", address=self._place(symbol, 0, 0), size=size)
        return bytes.fromhex(answer["hex"])

    def poke(self, symbol: str, data: bytes, offset: int = 0) -> None:
        """Write into a variable. Raises KeyError as `peek` does, ValueError beyond its end."""
        self._ask("poke", address=self._place(symbol, offset, len(data)), hex=data.hex())

    def reset(self, reason: Reset, held: int = 0) -> None:
        """Reset it now and hold it so for some cycles; power makes its RAM random anew."""
        self._ask("reset", reason=int(reason), held=held)

    def halt(self, cycles: int) -> None:
        """The program stands still for so long and then goes on; interrupts are served meanwhile."""
        self._ask("halt", cycles=cycles)

    def hang(self, symbol: str = "") -> None:
        """From now on the program stands still where it is, or where a function begins, until a reset.

        Interrupts are served meanwhile; but in a function of theirs all stands that is not more urgent.
        """
        self._ask("hang", address=self._image.symbols[symbol].address if symbol else -1)

    def close(self) -> None:
        """Switch it off."""
        if not self._said.closed:
            with suppress(BrokenPipeError):
                self._questions.close()
            self._process.wait()
            self._answers.close()
            self._said.close()

    def _checked(self, edges: Sequence[Edge]) -> list[int]:
        flat: list[int] = []
        for edge in edges:
            if edge.cycle < self._last:
                raise ValueError(f"an edge at cycle {edge.cycle} after one at {self._last}")
            self._last = edge.cycle
            flat += (edge.cycle, _NUMBERS[edge.pin], edge.level)
        return flat

    def _place(self, symbol: str, offset: int, size: int) -> int:
        found = self._image.symbols[symbol]
        if found.address not in _RAM:
            raise KeyError(symbol)
        if offset + size > found.size:
            raise ValueError(f"{symbol} has {found.size} bytes; {size} at {offset} do not fit")
        return found.address + offset

    def _ask(self, ask: str, **given: object) -> dict[str, Any]:
        """One question, one answer. Raises ChipError with its last words where the process has ended."""
        try:
            self._questions.write(json.dumps({"ask": ask, **given}) + "\n")
            self._questions.flush()
            answer: dict[str, Any] = json.loads(self._answers.readline())
        except (OSError, ValueError):
            raise ChipError(f"the simulator has ended: {self._last_words()}", "start anew") from None
        return answer

    def _last_words(self) -> str:
        if self._said.closed:
            return "it is switched off"
        self._process.wait()
        self._said.seek(0)
        lines = [line for line in self._said.read().splitlines() if line and not line.startswith(" ")]
        return next((line for line in lines if "Error" in line), "it gave no reason")


def _rows(flat: list[int], width: int) -> Iterator[tuple[int, ...]]:
    """Every `width` numbers as one row."""
    return zip(*[iter(flat)] * width, strict=True)
