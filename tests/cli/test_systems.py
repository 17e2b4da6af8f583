"""Every command starts where the names that only POSIX has are missing, as they are on Windows."""

import ast
import subprocess
import sys
from pathlib import Path

from tests.cli.conftest import PROFILES, ROUGH, SWEEPS, TANK

CARRIER = PROFILES / "sample_carrier.toml"
ROOT = PROFILES.parent
ONLY_POSIX = {
    "signal": ["SIGHUP", "SIGQUIT", "SIGUSR1", "SIGUSR2", "SIGALRM", "SIGKILL", "SIGCHLD", "SIGWINCH",
               "SIGTSTP", "SIGCONT", "pthread_kill", "pthread_sigmask", "alarm", "setitimer"],
    "os": ["fork", "forkpty", "getuid", "geteuid", "getgid", "killpg", "setsid", "chown", "openpty",
           "mkfifo", "getpgid", "setpgid", "tcgetpgrp", "getpgrp", "nice", "sync"],
}  # fmt: skip
MODULES = ["fcntl", "termios", "tty", "pty", "resource", "pwd", "grp"]
"""Nothing of ours may import these but `mixer.system`, on use."""

PRELUDE = f"""
import asyncio, multiprocessing.popen_spawn_posix, os, signal, subprocess, sys, tempfile, selectors
import textual.app, textual.drivers.linux_driver, textual.widgets, platform
import contextlib
with contextlib.suppress(ImportError):
    import serial, serial.tools.list_ports, textual_serve.server
for module, names in {ONLY_POSIX!r}.items():
    for name in names:
        if hasattr(sys.modules[module], name):
            delattr(sys.modules[module], name)
for name in {MODULES!r}:
    sys.modules[name] = None
def missing(*_):
    raise NotImplementedError
for loop in (asyncio.SelectorEventLoop, asyncio.DefaultEventLoopPolicy):
    loop.add_signal_handler = loop.remove_signal_handler = missing
"""

COMMANDS = """
from pathlib import Path
from mixer.cli.main import COMMANDS, main
profile, carrier, log, sweeps = sys.argv[1:5]
slow = Path("slow.toml")  # at a fifth of its ticks, which is five times as quick
slow.write_text(Path(profile).read_text().replace("tick_ms = 2", "tick_ms = 10"))
slow = str(slow)
runs = {
    "check": [profile], "replay": [carrier, log, "-o", "ticks.csv"], "compare": [carrier, carrier, log],
    "explain": [profile], "calibrate": [sweeps], "export": [profile, "-o", "mix"], "size": [profile],
    "failsafe": [slow, "--no-proof", "--scenarios", "20"], "new": ["own.toml"],
    "sheet": [profile, "-o", "page.html", "--no-proof", "--no-campaign"],
    "record": [profile, "--port", "COM99", "-o", "drive.csv"], "rehearse": [profile, "--port", "COM99"],
    "bench": ["missing.toml"], "course": ["missing.csv"], "pit": [profile, "--port", "COM99"],
    "tick": [profile, "missing.elf"], "feel": [profile, "twitchy"],
    "keys": ["deadband"], "review": [carrier, log],
}
assert set(runs) == set(COMMANDS)
for name, words in runs.items():
    print("code", name, main([name, *words]), flush=True)
"""

SCREEN = """
from mixer.cli.main import main
import tui.__main__, tui.browser, tui.app, tui.ends
tui.__main__.need_terminal = lambda: None
tui.__main__.BenchApp.run = lambda self, *_, **__: print("started", flush=True) or 0
main(["bench", sys.argv[1]])
"""


def run(code: str, folder: Path, log: Path) -> str:
    """What an interpreter without POSIX-only names prints; it has to end well."""
    arguments = [str(path) for path in (TANK, CARRIER, log, SWEEPS)]
    done = subprocess.run(
        [sys.executable, "-c", f"sys_path = {str(ROOT)!r}\nimport sys; sys.path.insert(0, sys_path)\n"
         + PRELUDE + code, *arguments],
        capture_output=True, text=True, check=False, cwd=folder,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "NotImplementedError" not in done.stderr
    return done.stdout


def test_every_command_runs_without_them(tmp_path: Path, rough: Path) -> None:
    """Each does its work, or (without a port, a board, a profile) says what is missing."""
    codes = dict(
        line.split()[1:] for line in run(COMMANDS, tmp_path, rough).splitlines() if line.startswith("code ")
    )
    for name in ("record", "rehearse", "bench", "course", "pit", "tick"):
        assert codes.pop(name) == "2"
    assert set(codes.values()) <= {"0", "1"}, codes
    assert (tmp_path / "own.toml").exists()
    assert (tmp_path / "ticks.csv").exists()


def test_the_screen_starts_without_them(tmp_path: Path) -> None:
    """The bench comes up to where Textual takes over."""
    assert "started" in run(SCREEN, tmp_path, ROUGH)


def test_one_module_knows_the_differences() -> None:
    """No other module imports what only POSIX has."""
    for path in [*ROOT.glob("mixer/**/*.py"), *ROOT.glob("tui/**/*.py")]:
        if path == ROOT / "mixer" / "system.py":
            continue
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)) if any(name in text for name in MODULES) else ():
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not set(names) & set(MODULES), path
