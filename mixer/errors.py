"""Every error Stickwright raises on purpose, and the remedy each one carries.

    StickwrightError
    ├── ProfileError (ValueError)      a profile that cannot be used; lists every problem at once
    ├── LogError (ValueError)          a log that cannot be read
    ├── OptionError (ValueError)       a command-line value that makes no sense for this profile
    ├── ImageError (ValueError)        a compiled program that cannot be read or whose time has no bound
    ├── ChipError (RuntimeError)       a simulated chip on which the program came to an end
    ├── MissingToolError (RuntimeError)a program or package that has to be installed first
    ├── WriteError (OSError)           a file cannot be written; what was there before is whole
    ├── StdoutError (OSError)          what a command prints goes nowhere: closed, or full
    ├── LinkError (OSError)            something between this machine and the board
    │   ├── NoPortError                there is no such port
    │   ├── PortDeniedError            the port is there, but not for this user
    │   ├── PortBusyError              another program has the port
    │   ├── WrongDeviceError           what answers there is no pulse reader
    │   ├── PortGoneError              the port has gone away while in use
    │   ├── PortStuckError             the other side takes no more bytes
    │   ├── PortClosedError            the port was used after it was closed
    │   └── SilentBoardError           the port is open and nothing comes
    └── InternalError (AssertionError) our bug, never yours: please report it

All but the last are mistakes of the input and end a command with exit code 2 and one readable
message; the last ends it with 70. None of them is raised for something the program could have repaired by
itself.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from mixer.text import visible

MOST_SHOWN = 20
"""Problems of one input that are shown; a file with more is better mended by its first."""
LONGEST_SHOWN = 2000
"""Letters of one line of a message."""
MOST_LISTED = 40
"""Names that a remedy lists."""
MOST_LIKE, LONGEST_LIKE = 2000, 200
"""Names, and letters of a word, that are searched for the nearest: the search is slow on hostile files."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with one input, in the order a person needs to mend it."""

    where: str
    """File, and line where it is known: ``carrier.toml:14``."""
    key: str
    """Dotted key path inside the file, or the column of a log; empty when the whole file is meant."""
    said: str
    """What is wrong, with the offending value."""
    remedy: str
    """What would be right."""

    def __str__(self) -> str:
        key = f"{self.key}: " if self.key else ""
        said = _cut(visible(f"{self.where}: {key}{self.said}"))
        return f"{said}\n    remedy: {_cut(visible(self.remedy))}"


def _cut(text: str) -> str:
    """Hostile names may be a megabyte long; a message never is."""
    return text if len(text) <= LONGEST_SHOWN else text[:LONGEST_SHOWN] + " ..."


class StickwrightError(Exception):
    """Root of the tree above. `remedy` says what the reader should do next."""

    def __init__(self, said: str, remedy: str = "") -> None:
        super().__init__(said)
        self.said = said
        self.remedy = remedy

    def __str__(self) -> str:
        said = _cut(visible(self.said))
        return f"{said}\n    remedy: {_cut(visible(self.remedy))}" if self.remedy else said


class ProblemsError(StickwrightError):
    """Several problems found in one reading; shown together so that one edit can mend them all.

    `problems` holds every one; the message shows the first `MOST_SHOWN` and counts the others.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [str(problem) for problem in self.problems[:MOST_SHOWN]]
        if len(self.problems) > MOST_SHOWN:
            lines.append(f"... and {len(self.problems) - MOST_SHOWN} more")
        super().__init__("\n".join(lines))

    def __str__(self) -> str:
        return self.said


class ProfileError(ProblemsError, ValueError):
    """The profile is unreadable, incomplete or contradicts itself."""


class LogError(ProblemsError, ValueError):
    """The log cannot be read as recorded inputs for this robot."""


class OptionError(StickwrightError, ValueError):
    """A value given on the command line does not fit the profile or the log."""


class ImageError(StickwrightError, ValueError):
    """A compiled program that cannot be read, is of another robot, or whose time has no bound."""


class ChipError(StickwrightError, RuntimeError):
    """The program on a simulated chip crashed, or sleeps for ever."""


class MissingToolError(StickwrightError, RuntimeError):
    """A program or package is needed that this machine does not have."""


class WriteError(StickwrightError, OSError):
    """A file cannot be written, or not be gone on with; what was there before is whole."""


class StdoutError(StickwrightError, OSError):
    """Standard output is closed, or what it leads to is full."""


class LinkError(StickwrightError, OSError):
    """Something between this machine and the board; the children say what."""


class NoPortError(LinkError):
    """There is no port of that name."""


class PortDeniedError(LinkError):
    """The port is there, but this user may not open it."""


class PortBusyError(LinkError):
    """Another program, or another window of this one, has the port."""


class WrongDeviceError(LinkError):
    """It can be opened, but is no serial port, or no pulse reader answers there."""


class PortGoneError(LinkError):
    """The port went away while in use: unplugged, or its other end closed."""


class PortStuckError(LinkError):
    """The other side has taken no bytes for too long."""


class PortClosedError(LinkError):
    """The port was used after it was closed."""


class SilentBoardError(LinkError):
    """The port is open and nothing comes."""


class InternalError(StickwrightError, AssertionError):
    """Something that cannot happen has happened: our bug, not your mistake."""


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name that is most like a word somebody wrote, None where none is like it."""
    from difflib import get_close_matches  # noqa: PLC0415 - only a mistake needs it

    names = list(known)[:MOST_LIKE]
    near = get_close_matches(word[:LONGEST_LIKE], names, n=1, cutoff=0.5)
    return near[0] if near else None


def offer(word: str, known: Iterable[str], what: str) -> str:
    """A remedy for a name nobody knows: the nearest known one, then all where they are few."""
    names = sorted(known)
    if not names:
        return f"there are no {what} yet: define one, or take {word!r} out"
    near = nearest(word, names)
    if near and len(names) > MOST_LISTED // 2:
        return f"did you mean {near!r}?"
    start = f"did you mean {near!r}? " if near else ""
    return f"{start}known {what}: {listed(names)}"


def listed(names: Sequence[str]) -> str:
    """Names with commas between them; of very many only the first."""
    more = f", ... and {len(names) - MOST_LISTED} more" if len(names) > MOST_LISTED else ""
    return ", ".join(names[:MOST_LISTED]) + more
