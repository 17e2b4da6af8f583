"""What a person types while frames keep coming: lines, read without ever waiting for them.

A thread reads the raw bytes, so it works for a terminal and a pipe, on every platform. In a terminal with
live lines the keys are taken one by one and shown by those lines; otherwise the terminal edits the line.
"""

import codecs
import os
import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from mixer.system import keys_one_by_one

END_OF_INPUT = "\x04"
BACKSPACE = "\x7f\b"
CLEAR_LINE = "\x15"


class Answers:
    """Lines typed so far. `typed` is the one not yet finished."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._bytes: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._decode = codecs.getincrementaldecoder("utf-8")(errors="replace").decode
        self.typed = ""
        self.ended = False
        """No more answers will come."""
        threading.Thread(target=self._read, daemon=True).start()

    def take(self) -> list[str]:
        """The lines finished since the last call."""
        lines: list[str] = []
        while not self.ended:
            try:
                data = self._bytes.get_nowait()
            except queue.Empty:
                break
            self.ended = not data
            for character in self._decode(data):
                self._key(character, lines)
        return lines

    def _key(self, character: str, lines: list[str]) -> None:
        if character in "\r\n":
            lines.append(self.typed)
            self.typed = ""
        elif character in BACKSPACE:
            self.typed = self.typed[:-1]
        elif character == CLEAR_LINE:
            self.typed = ""
        elif character == END_OF_INPUT:
            self.ended = self.ended or not self.typed
        elif character.isprintable():
            self.typed += character

    def _read(self) -> None:
        data = b"?"
        while data:
            try:
                data = os.read(self._descriptor, 1024)
            except OSError:
                data = b""  # a terminal that was closed
            self._bytes.put(data)


@contextmanager
def answers_from(stream: TextIO, *, by_key: bool) -> Iterator[Answers]:
    """Answers from a terminal or a pipe; `by_key` takes a terminal's keys one by one, without echo."""
    descriptor = stream.fileno()
    if not by_key:
        yield Answers(descriptor)
        return
    with keys_one_by_one(descriptor):
        yield Answers(descriptor)
