"""The bench: all panels in their places, painted at a fixed rate from the newest snapshot.

Time comes from a clock handed in. A timer calls `paint_frame`: the session catches up with the clock, then
every panel whose turn it is draws itself. Keys find their command first in the panel that has the focus,
then in the bench's own table.
"""

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen

from mixer.link.rehearse.listening import Rehearsing
from mixer.live.views.snapshot import Snapshot
from tui.bench.commands import Command
from tui.bench.demonstration import end_demonstration
from tui.bench.key_holds import KeyHolds
from tui.bench.layout import DRAWERS, Place, Places, arrange, pages_of, size_of
from tui.bench.state import Bench
from tui.dialogs.keeping import Watch
from tui.drawers.board import BoardPanel
from tui.drawers.course import CoursePanel
from tui.drawers.explain import ExplainPanel
from tui.drawers.faults import FaultsPanel
from tui.drawers.feel import FeelPanel
from tui.drawers.rehearse import RehearsePanel
from tui.drawers.tune import TunePanel
from tui.panels.base import Panel
from tui.panels.body import BodyPanel
from tui.panels.caption import TALL, CaptionPanel
from tui.panels.curve import CurvePanel
from tui.panels.diary import DiaryPanel
from tui.panels.floor import FloorPanel
from tui.panels.gate import GatePanel
from tui.panels.hands import HandsPanel
from tui.panels.keys import KeysPanel
from tui.panels.masthead import MastheadPanel
from tui.panels.mixed import MixedPanel
from tui.panels.motors import MotorsPanel
from tui.panels.receiver import ReceiverPanel
from tui.panels.transport import TransportPanel
from tui.panels.weave import WeavePanel
from tui.screens.bench_keys import BENCH_COMMANDS
from tui.styles.palette import Palette

PANELS: tuple[type[Panel], ...] = (
    MastheadPanel, ReceiverPanel, WeavePanel, MixedPanel, GatePanel, MotorsPanel, FloorPanel, HandsPanel,
    CurvePanel, BodyPanel, DiaryPanel, TunePanel, FeelPanel, FaultsPanel, ExplainPanel, RehearsePanel,
    BoardPanel, CoursePanel, TransportPanel, CaptionPanel, KeysPanel,
)  # fmt: skip
"""In the order in which tab walks over them."""
TUNED = ("tune", "curve")
"""What shows an edit at once; everything else follows in the next pictures."""
CATCH_UP = 6
ALWAYS = ("masthead", "keys", "caption")
"""What can change although the robot has not."""


class BenchScreen(Screen[None]):
    """One robot on the bench."""

    AUTO_FOCUS = ""
    ENABLE_COMMAND_PALETTE: ClassVar[bool] = True

    def __init__(self, bench: Bench, palette: Palette, frames_per_s: float) -> None:
        super().__init__()
        self.bench = bench
        self.places: Places = {}
        self.frame = 0
        self._holds = KeyHolds()
        self._watch = Watch()
        self._behind = 0
        self._palette = palette
        self._frames_per_s = frames_per_s

    def compose(self) -> ComposeResult:
        """All panels; `arrange` decides which are seen."""
        yield from (panel(self.bench, self._palette) for panel in PANELS)

    def on_mount(self) -> None:
        """Put everything in its place and begin."""
        self.settle()
        if self._frames_per_s:
            self.set_interval(1 / self._frames_per_s, self.paint_frame)

    def on_resize(self) -> None:
        """Places anew."""
        self.settle()

    @cached_property
    def panels(self) -> dict[str, Panel]:
        """Every panel by its name."""
        return {panel.id or "": panel for panel in self.query(Panel)}

    def settle(self) -> None:
        """Show the panels of this size, page and drawer, in their places."""
        looking = self.bench.looking
        if self.bench.blind:
            looking.drawer = "course"
        width, height = self.size
        if not width or not height:
            return
        self.places = self._arranged(width, height)
        for name, panel in self.panels.items():
            place = self.places.get(name)
            panel.display = place is not None
            if place is not None:
                panel.styles.offset = (place.x, place.y)
                panel.styles.width, panel.styles.height = place.width, place.height
        if self.bench.demonstration is None and (self.focused is None or not self.focused.display):
            self.set_focus(self.panels[looking.drawer or self._home])

    @property
    def _home(self) -> str:
        """Who has the keys when no drawer is open: the log's bar, the hands, or what there is."""
        return next((name for name in ("transport", "hands", "receiver") if name in self.places), "hands")

    def _arranged(self, width: int, height: int) -> Places:
        """The places of this moment; in a demonstration the robot, the way to it, and the caption."""
        looking, view = self.bench.looking, self.bench.snapshot
        floor = view.physics is not None
        if self.bench.demonstration is None:
            replaying = view.transport.mode == "replay"
            rows = max(len(view.outputs), len(view.channels))
            page, drawer = looking.page, looking.drawer
            return arrange(width, height, page, drawer, replaying=replaying, floor=floor, rows=rows)
        floor = floor or size_of(width, height) == "wide"
        places = arrange(width, height - TALL + 1, 0, "floor" if floor else "hands", replaying=False)
        foot = places.pop("keys")
        return places | {"caption": Place(0, foot.y, width, height - foot.y)}

    def paint_frame(self) -> None:
        """One picture: the session catches up, then panels paint in turn."""
        if self.bench.demonstration is not None and self.bench.demonstration.over:
            end_demonstration(self)
        for name, direction in self._holds.let_go(self.bench.clock()):
            self.bench.session.sticks.let_go(name, direction)
        if self.bench.rehearsing is not None:
            self.bench.rehearsing.look()
        if self.bench.demonstration is None:
            self._watch.look(self.bench)
        before = self.bench.snapshot.revision
        self._take(self.bench.session.advance(self.bench.clock()))
        self.frame += 1
        changed = before != self.bench.snapshot.revision or self._behind > 0
        self._behind = max(self._behind - 1, 0)
        for number, (name, panel) in enumerate(self.panels.items()):
            turn = (self.frame + number) % panel.every == 0
            if name in self.places and turn and (changed or name in ALWAYS):
                panel.keep_up()

    def paint_all(self) -> None:
        """Show at once what was just done."""
        self._take(self.bench.session.snapshot())
        self._paint(self.places)

    def _paint(self, names: Iterable[str]) -> None:
        for name in names:
            if name in self.places:
                self.panels[name].paint()

    def _take(self, snapshot: Snapshot) -> None:
        """The newest picture; a log that comes or goes brings its transport with it."""
        mode = self.bench.snapshot.transport.mode
        self.bench.snapshot = snapshot
        if snapshot.transport.mode != mode:
            self.settle()
            if snapshot.transport.mode == "replay" and "transport" in self.places:
                self.set_focus(self.panels["transport"])

    def use_palette(self, palette: Palette) -> None:
        """Other colours from now on."""
        for panel in self.panels.values():
            panel.use_palette(palette)

    def commands_now(self, *, own: bool = False) -> Sequence[Command]:
        """What keys do now, the focused panel's first; or those alone."""
        first = self.focused.commands if isinstance(self.focused, Panel) else ()
        if own:
            return first
        taken = {key for command in first for key in command.keys}
        return [*first, *(command for command in BENCH_COMMANDS if not taken.intersection(command.keys))]

    def run_command(self, command: Command) -> None:
        """Do it, for the panel that has it in its table or for the bench."""
        end_demonstration(self)
        panel = self.focused
        own = isinstance(panel, Panel) and command in panel.commands
        said = self.bench.attempt(lambda: command.run(panel if own else self))
        if isinstance(said, str) and said:
            self.bench.say(said)
        if own and isinstance(panel, TunePanel):
            self._take(self.bench.session.snapshot())
            self._paint(TUNED)
            self._behind = CATCH_UP
        else:
            self.paint_all()

    def on_key(self, event: events.Key) -> None:
        """Jumping, typing, then commands; in a demonstration every key ends it and does nothing else."""
        if end_demonstration(self):
            event.stop()
            event.prevent_default()
            return
        if self._jumps(event) or self._types(event):
            event.stop()
            self.paint_all()
            return
        command = next((found for found in self.commands_now() if event.key in found.keys), None)
        if command is not None:
            event.stop()
            event.prevent_default()
            self.run_command(command)

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """A click ends a demonstration as well."""
        if end_demonstration(self):
            event.stop()

    def _jumps(self, event: events.Key) -> bool:
        looking = self.bench.looking
        if not looking.jumping:
            return False
        looking.jumping = False
        target = next((panel for panel in self.panels.values() if panel.letter == event.key), None)
        if target is not None:
            self._show(target)
        return True

    def _types(self, event: events.Key) -> bool:
        if isinstance(self.focused, RehearsePanel) and self.bench.rehearsing is not None:
            return self._answers(self.bench.rehearsing, event.character or "")
        return isinstance(self.focused, TunePanel) and self.focused.take_key(event)

    def _answers(self, running: Rehearsing, letter: str) -> bool:
        """Whether the key was the first letter of an answer that is offered now."""
        offered = running.prompt.answers if running.prompt is not None else ()
        if not letter or not any(answer.startswith(letter) for answer in offered):
            return False
        self.bench.attempt(lambda: running.answer(letter))
        return True

    def _show(self, panel: Panel) -> None:
        """Bring a panel into sight, leafing or opening its drawer, and focus it."""
        name, looking = panel.id or "", self.bench.looking
        if name in DRAWERS:
            self.open_drawer(name)
            return
        if name not in self.places:
            looking.drawer = ""
            for page in range(pages_of(size_of(*self.size))):
                looking.page = page
                self.settle()
                if name in self.places:
                    break
        if name in self.places:
            self.set_focus(panel)

    def open_drawer(self, name: str) -> None:
        """Open a drawer and focus it; empty closes. During a blind comparison the course stays open."""
        if self.bench.blind and name != "course":
            self.bench.say("a blind comparison is under way: B ends it")
            name = "course"
        self.bench.looking.drawer = name
        self.bench.looking.lit = name == "explain" or (bool(name) and self.bench.looking.lit)
        self.settle()
        if name == "tune":
            self.query_one(TunePanel).follow()
        self.set_focus(self.panels[name or self._home])
        self.paint_all()

    def cycle_switch(self, name: str) -> None:
        """Move a switch on by hand."""
        self.bench.attempt(lambda: self.bench.session.sticks.cycle(name))
        self.paint_all()

    def hold_stick(self, name: str, direction: int) -> None:
        """A key holds a stick: it runs that way until the key is let go, then springs back."""
        if self._holds.press((name, direction), self.bench.clock()):
            self.bench.session.sticks.hold(name, direction)
