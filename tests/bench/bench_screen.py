"""What the bench costs: 8 channels, 14 outputs, 500 ticks and 30 pictures a second, everything moving.

    python tests/bench/bench_screen.py [SECONDS]

CPU is this process's own, as a share of one core; headless, so without writing to a terminal. "pad" is what
repainting the dragged pad takes in the mouse's own event. The second row is the same without painting. Then
what one edit costs the screen's own thread, and how long the first picture takes, in starts of Python that
does nothing.
"""

import asyncio
import math
import os
import pty
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from mixer.live.bench.session import Session, open_session
from tui.app import BenchApp
from tui.drawers.tune import TUNE_COMMANDS

SIZE = (200, 50)
SHAPE = 'shape = { switch = "pace", slow = "soft", mid = "soft", fast = "soft" }'
TERMINAL = {"TERM": "xterm-256color", "LINES": "50", "COLUMNS": "200"}
STICKS = ("throttle", "steering", "lift", "turn", "reach", "grip")


def profile() -> str:
    """A robot with 6 sticks, 2 switches and 14 motors, and physics."""
    parts = ['[robot]\nname = "many motors"\ntick_ms = 2\n', "[shape.soft]\ndeadband = 0.04\nexpo = 0.3\n"]
    parts += [f"[stick.{name}]\nreceiver = {n + 1}\n{SHAPE}\n" for n, name in enumerate(STICKS)]
    parts += ['[switch.arm]\nreceiver = 7\npositions = ["off", "on"]\n[switch.pace]\nreceiver = 8\n']
    parts[-1] += 'positions = ["slow", "mid", "fast"]\n'
    for number in range(14):
        side = 1 if number % 2 else -1
        other = STICKS[2 + number % 4]
        mix = f"throttle = 0.7, steering = {0.5 * side}, {other} = 0.4"
        parts.append(
            f"[output.motor_{number}]\npin = {number + 1}\nmix = {{ {mix} }}\nslew_up_ms = 200\n"
            f'slew_down_ms = 100\nreversal_pause_ms = 20\nmotor = "gear"\n'
        )
        parts.append(
            f'[wheel.w{number}]\noutput = "motor_{number}"\nx_m = {0.3 - number // 2 * 0.1:.1f}\n'
            f"y_m = {-0.15 * side}\ndiameter_m = 0.08\n"
        )
    names = ", ".join(f'"motor_{number}"' for number in range(14))
    parts.append(f'[group.all]\noutputs = [{names}]\nover_range = "scale"\n')
    parts.append('[guard]\narm = { switch = "arm", position = "on" }\n')
    parts.append("[motor.gear]\nnominal_v = 12\nno_load_rpm = 6000\nno_load_a = 0.2\nstall_nm = 0.1\n")
    parts[-1] += "stall_a = 6\ngear_ratio = 20\ngear_efficiency = 0.7\n"
    parts.append("[battery]\ncells = 3\ncapacity_ah = 2.2\nresistance_ohm = 0.03\nc_rating = 40\n")
    parts.append("[chassis]\nmass_kg = 6\ntrack_m = 0.3\nwheelbase_m = 0.6\ngrip = 0.8\nrolling = 0.02\n")
    return "\n".join(parts)


async def cost(path: Path, seconds: float, frames_per_s: float) -> tuple[float, float, float]:
    """Share of a core, pictures a second, and the pad's median latency in ms."""
    session = open_session(path, now_s=time.monotonic(), state_folder=path.parent)
    app = BenchApp(session, path, frames_per_s=frames_per_s)
    async with app.run_test(size=SIZE) as pilot:
        await _wait(session, 1.0, frames_per_s)  # the arm switch has to be seen off first
        await pilot.press("1")
        await _wait(session, 3.0, frames_per_s)
        screen, hands = app.bench_screen, app.bench_screen.panels["hands"]
        latencies = []
        began, cpu, frames = time.monotonic(), time.process_time(), screen.frame
        while (now := time.monotonic() - began) < seconds:
            for number, name in enumerate(STICKS):
                session.sticks.set(name, 0.8 * math.sin(2 * now + number))
            await _wait(session, 1 / 30, frames_per_s)
        used = (time.process_time() - cpu) / seconds
        shown = (screen.frame - frames) / seconds
        for _ in range(20):
            start = time.perf_counter()
            hands.paint()
            latencies.append(time.perf_counter() - start)
        if app.bench.session.snapshot().guard.state != "live":
            raise SystemExit("the robot never went live; the figures would mean nothing")
    return used, shown, sorted(latencies)[10] * 1000


async def edit_ms(path: Path) -> float:
    """The median of what the screen's thread takes to turn one value, everything drawn anew included."""
    session = open_session(path, now_s=time.monotonic(), state_folder=path.parent)
    app, took = BenchApp(session, path, frames_per_s=0), []
    commands = {command.name: command for command in TUNE_COMMANDS}
    async with app.run_test(size=SIZE) as pilot:
        await pilot.press("t")
        for _ in range(41):
            began = time.thread_time()
            app.bench_screen.run_command(commands["more"])
            took.append(time.thread_time() - began)
    return sorted(took)[20] * 1000


def first_picture(path: Path) -> float:
    """From starting the program to a drawn bench on a terminal of its own, in bare starts of Python."""
    began = time.monotonic()
    for _ in range(5):
        subprocess.run([sys.executable, "-c", ""], check=True)
    bare, ratios = (time.monotonic() - began) / 5, []
    for _ in range(3):
        child, master = pty.fork()
        if not child:
            os.execve(sys.executable, [sys.executable, "-m", "tui", str(path)], os.environ | TERMINAL)
        began, seen = time.monotonic(), b""
        while b"hands" not in seen:
            seen += os.read(master, 65536)
        ratios.append((time.monotonic() - began) / bare)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(master)
    return min(ratios)


async def _wait(session: Session, seconds: float, frames_per_s: float) -> None:
    """Let time pass; without a painting timer the session is advanced here."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if not frames_per_s:
            session.advance(time.monotonic())
        await asyncio.sleep(min(1 / 30, seconds))


def main() -> None:
    """Print the table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 6.0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "many.toml"
        path.write_text(profile(), encoding="utf-8")
        for words, rate in (("30 pictures a second", 30.0), ("no painting", 0.0)):
            used, shown, pad_ms = asyncio.run(cost(path, seconds, rate))
            sys.stdout.write(
                f"{words:<22} {used:6.1%} of a core, {shown:4.1f} pictures/s, pad {pad_ms:.1f} ms\n"
            )
        sys.stdout.write(f"{'one edit':<22} {asyncio.run(edit_ms(path)):6.1f} ms\n")
        sys.stdout.write(f"{'first picture':<22} {first_picture(path):6.0f} bare starts of Python\n")


if __name__ == "__main__":
    main()
