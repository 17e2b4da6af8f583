"""One robot on the bench: profile, firmware, physics and monitor, run in catch-up by an injected clock.

    session = open_session(Path("carrier.toml"), now_s=clock())
    while True:
        snapshot = session.advance(clock())

`Session` ties its parts together; each part is an attribute with a small interface of its own:
`sticks` (hands), `replay` (a log's transport), `faults`, `tuning`, `events`, `recorder`.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from tui.engine.snapshot import Snapshot

MOST_CATCH_UP_S = 0.1
"""The most simulated time one `advance` runs; what a stall leaves over is skipped and told."""


class Session:
    """A running robot. Not for sharing between threads."""

    def advance(self, now_s: float) -> Snapshot:
        """Run all ticks due by `now_s` (any clock that never runs backwards), newest snapshot out.

        At speed 1, ticks and clock do not drift: the k-th tick is due k·tick after the start, plus what
        stalls longer than `MOST_CATCH_UP_S` have skipped (`snapshot.cost.skipped_s`).
        """

    def snapshot(self) -> Snapshot:
        """The newest picture, without running anything (after an edit, say)."""

    def step(self, ticks: int = 1) -> Snapshot:
        """Run a number of ticks whatever the clock says (single-stepping while paused)."""

    def pause(self) -> None:
        """Hold simulated time (any source). `resume` goes on without jumping."""

    def resume(self) -> None:
        """Go on from where `pause` stopped."""

    def power_up(self) -> None:
        """Switch the board off and on; robot stands still at the start pose, battery full, cold."""

    def use(self, mode: str) -> None:
        """Take inputs from ``hand``, ``replay``, ``link`` or ``pad``. Raises OptionError when there is none."""

    def open_log(self, path: Path) -> None:
        """Load a log and replay it from its start, paused. Raises LogError; the source then stays."""

    def open_link(self, port: str) -> None:
        """Connect to a pulse reader and use it. Raises LinkError or MissingToolError; the source then stays."""

    def change_loadout(self, loadout: str | None) -> None:
        """The same robot with other parts; powers up anew. Raises ProfileError."""

    def explain(self, output: str) -> Sequence[object]:
        """The chain of `mixer.runs.explain.Step` (stage, text, value) of an output at this instant."""

    def curve(self, stick: str, points: int = 101) -> object:
        """A `Response` of a stick's shape in use: what it makes of every command, and the live point."""

    def close(self) -> None:
        """End links and recordings; the recovery file stays while edits are unsaved."""


def open_session(
    path: Path,
    *,
    now_s: float,
    loadout: str | None = None,
    state_folder: Path | None = None,
    stopwatch: Callable[[], float] | None = None,
) -> Session:
    """A session of a profile file, powered up, on hand sticks. Raises ProfileError.

    `state_folder` is where the recovery file goes (default: beside the profile). `stopwatch` gives
    seconds and is used only to tell the cost of a tick.
    """
    raise NotImplementedError


# Parts (bodies in their own modules):
#
# session.sticks: tui.engine.hands.HandSticks
#   names -> Sequence[str]                          sticks and switches, in the plan's order
#   set(name, value)          value -1..1           mouse drag: stays until released or set again
#   release(name)                                   springs back to neutral (0) at once
#   nudge(name, by)                                 adds to the value, clamps, stays ("nudge-and-stay")
#   hold(name, direction)  / let_go(name)           keys with release events: runs to ±1, springs back
#   centre()                                        all sticks to neutral (AppBlur, `c`)
#   value(name) -> float
#   position(name) -> int; turn(name, position); cycle(name, by=1)   switches
#   touch_contact(name, closed: bool | None)        press an end stop by hand; None = leave it to the plant
# session.replay: tui.engine.replay.Replay | None
#   play() pause() step(ticks) seek(seconds) set_speed(0.1..20) next_event() previous_event()
#   events -> Sequence[float]  (seconds of guard changes, losses, vetoes in the log), for marks on the bar
# session.faults: tui.engine.faults.FaultBoard
#   choices -> Sequence[FaultChoice(key, words, advice, unseen, group)]
#   inject(key) clear(key) toggle(key) clear_all() active -> tuple[str, ...]
# session.tuning: tui.engine.tuning.Tuning
#   knobs -> Sequence[Knob(key, label, unit, low, high, step, choices, help, group)]
#   value(key) -> float | int | bool | str ; file_value(key)
#   set(key, value) -> str            "" when taken, else the problem in words; old value stays
#   undo() redo() -> str  (what was undone, "" when nothing)
#   swap() -> str                     A <-> B; copy_across() makes the other side equal to this one
#   changes() -> Sequence[Change(key, was, now)]
#   save(path=None) -> Path           the backup's path; raises StickwrightError
#   recovered() -> Recovered | None   an unsaved tuning of an earlier run; take_recovered() / drop_recovered()
# session.events: tui.engine.events.EventLog
#   since(number) -> Sequence[EventView]; newest(count); save(path); clear()
# session.recorder: tui.engine.recorder.Recorder
#   start(path) stop() recording -> str
