"""The C compiler of this machine, and any other program a lowering needs: found here and nowhere else.

compiler = find(C_COMPILER)      # ["/usr/bin/cc"], or what STICKWRIGHT_CC says, split as a shell would

Where the system has none, a compiler that came as a Python package (the extra `native`) does.
"""

import os
import shlex
import shutil
import sys
from dataclasses import dataclass
from importlib.util import find_spec

from mixer.errors import MissingToolError


@dataclass(frozen=True, slots=True)
class Tool:
    """A program from outside."""

    what: str
    """What it is, with its article: ``a C compiler``."""
    programs: tuple[str, ...]
    """Names to look for on the path, the first found wins."""
    override: str
    """The environment variable that names another one, arguments allowed."""
    install: str
    """How to get it."""
    package: tuple[str, ...] = ()
    """A Python package that is one, and what follows ``python -m`` to call it."""


C_COMPILER = Tool(
    "a C compiler",
    ("cc", "gcc", "clang"),
    "STICKWRIGHT_CC",
    "install gcc or clang (apt-get install gcc; xcode-select --install), or pip install ziglang",
    ("ziglang", "cc"),
)


def find(tool: Tool) -> list[str]:
    """The command to call, as a list. Raises MissingToolError that says what to install or to set."""
    chosen = os.environ.get(tool.override, "").strip()
    command = shlex.split(chosen) if chosen else []
    for program in command[:1] or tool.programs:
        path = shutil.which(program)
        if path is not None:
            return [path, *command[1:]]
    if not command and tool.package and find_spec(tool.package[0]) is not None:
        return [sys.executable, "-m", *tool.package]
    said = f"{tool.override} names {command[0]!r}, which is not a program here" if command else ""
    raise MissingToolError(
        said or f"{tool.what} is needed and none was found (looked for {', '.join(tool.programs)})",
        f"{tool.install}, or set {tool.override} to the program's path",
    )
