"""The bench as a terminal program: themes, first questions, and leaving without losing anything."""

import gc
import os
import time
from collections.abc import Callable, Iterable
from pathlib import Path, PurePath
from typing import ClassVar

from textual.app import App, SystemCommand
from textual.screen import Screen

from mixer.live.bench.session import Session
from mixer.live.tuning.offers import Offers
from tui.bench.state import Bench
from tui.dialogs.keeping import offer_recovered, tell_of_others
from tui.dialogs.welcome import welcome
from tui.dialogs.windows import Ask
from tui.ends import Ends
from tui.screens.bench import BenchScreen
from tui.screens.bench_keys import BENCH_COMMANDS
from tui.styles.palette import Palette
from tui.styles.themes import name_for, themes

FRAMES_PER_S = 30.0
SETTLED_S = 1.0
"""After this long what was made at the start will live to the end, and need not be looked through again."""
FIRST = (
    "Wheels off the ground, weapon locked.\n\n"
    "A pulse reader is connected: what you see follows the real receiver. The bench itself moves no motor, "
    "but a robot that is powered beside it obeys the same sticks. A simulation is no certificate; the "
    "event's rules decide."
)


class BenchApp(App[None]):
    """The running program. Time comes from `clock`; `frames_per_s` 0 leaves painting to the caller."""

    TITLE = "bench"
    ALLOW_SELECT = False
    CSS_PATH: ClassVar[list[str | PurePath]] = [Path(__file__).parent / "styles" / "bench.tcss"]

    def __init__(
        self,
        session: Session,
        where: Path,
        *,
        clock: Callable[[], float] = time.monotonic,
        frames_per_s: float = FRAMES_PER_S,
        example: bool = False,
    ) -> None:
        super().__init__()
        self.bench = Bench(session, session.snapshot(), clock, where)
        self._frames_per_s = frames_per_s
        self._example = example
        self._dark = True
        self.ends = Ends(lambda code: self.exit(return_code=code), session.close)
        for theme in themes():
            self.register_theme(theme)
        self._choose_theme()

    def on_mount(self) -> None:
        """Signals (of which the toolkit takes some at its start), the bench, and what is asked first."""
        self.ends.running()
        if self._frames_per_s and not self.is_headless:
            self.ends.listen()
        self.bench.session.begin(self.bench.clock())
        self.push_screen(BenchScreen(self.bench, self._palette(), self._frames_per_s))
        self._ask_first()
        if self._frames_per_s:
            self.set_timer(SETTLED_S, _settle_memory)

    def on_unmount(self) -> None:
        """End links and recordings; unsaved edits stay in the recovery file."""
        self.bench.own_session.close()

    def on_app_blur(self) -> None:
        """Nobody looks: sticks to neutral."""
        self.bench.own_session.sticks.centre()

    def change_theme(self) -> str:
        """Light or dark; which, in words."""
        self._dark = not self._dark
        self._choose_theme()
        self.bench_screen.use_palette(self._palette())
        return "dark" if self._dark else "light"

    @property
    def bench_screen(self) -> BenchScreen:
        """The bench, whatever stands before it."""
        return next(screen for screen in self.screen_stack if isinstance(screen, BenchScreen))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Every command of the bench by name, for the palette."""
        del screen
        for command in BENCH_COMMANDS:
            if not command.name.startswith("nudge_"):
                said = f"key {command.key}"
                yield SystemCommand(command.help, said, lambda c=command: self.bench_screen.run_command(c))

    def _choose_theme(self) -> None:
        colours = 1 << 24 if os.environ.get("COLORTERM", "") in ("truecolor", "24bit") else 256
        self.theme = name_for(dark=self._dark, colours=colours)

    def _palette(self) -> Palette:
        return Palette(self.current_theme.variables)

    def _ask_first(self) -> None:
        session = self.bench.session
        if self._example:
            welcome(self.bench_screen)
        if session.link is not None:
            self.push_screen(Ask("caution", FIRST, (("yes", "yes, wheels up and weapon locked"),)))
        tell_of_others(self.bench_screen)
        offer_recovered(self.bench_screen, Offers(session.tuning))


def _settle_memory() -> None:
    """Keep the collector from pausing the picture over what will live to the end anyway."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(2000, 20, 100_000)
