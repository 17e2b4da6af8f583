"""Tune: every value of the profile that can be turned while the robot drives."""

from collections.abc import Callable
from typing import ClassVar

from textual import events

from mixer.live.tuning.tuning import Tuning
from mixer.profile.edit.document import Scalar
from mixer.profile.edit.knobs import Knob
from mixer.profile.read.fitting import fitting_of
from tui.bench.commands import Command
from tui.drawers.listed import ListPanel, moving, rule
from tui.drawing.bars import span
from tui.drawing.rows import Row, fit, plain, row_of, row_with, wrapped

LIST_WORDS = 4
"""Rows below the list: range, file value, help."""


def written(value: object) -> str:
    """A value as it stands in the list."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def typed_value(knob: Knob, text: str) -> float | int | None:
    """A typed number in the form the profile holds; None when it is none."""
    try:
        number = float(text)
    except ValueError:
        return None
    return int(number) if knob.kind == "whole" and number.is_integer() else number


def step_of(knob: Knob, value: object, steps: int) -> Scalar:
    """The value some steps on; choices and flags go round, numbers stop at their ends."""
    if knob.kind == "flag":
        return not value
    if knob.choices:
        at = knob.choices.index(value) if value in knob.choices else 0
        return knob.choices[(at + (1 if steps > 0 else -1)) % len(knob.choices)]
    number = float(value) if isinstance(value, int | float) else float(knob.default or knob.low)
    moved = round(min(max(number + steps * knob.step, knob.low), knob.high), 9)
    return round(moved) if knob.kind == "whole" else moved


def _step(steps: int) -> Callable[["TunePanel"], None]:
    def run(panel: "TunePanel") -> None:
        knob = panel.knob
        if knob is not None:
            panel.set_to(step_of(knob, panel.bench.session.tuning.value(knob.key), steps))

    return run


def _section(by: int) -> Callable[["TunePanel"], None]:
    def run(panel: "TunePanel") -> None:
        shown = panel.shown
        groups = [knob.group for knob in shown]
        order = list(dict.fromkeys(groups))
        if order:
            target = order[(order.index(groups[panel.at]) + by) % len(order)]
            panel.move(groups.index(target) - panel.at)

    return run


def _reset(panel: "TunePanel") -> str:
    if panel.knob is None:
        return "there is no value here"
    panel.said = panel.bench.session.tuning.reset(panel.knob.key)
    return "" if panel.said else f"{panel.knob.key} as in the file"


def _only_changed(panel: "TunePanel") -> str:
    panel.only_changed, panel.at = not panel.only_changed, 0
    return "only what differs from the file" if panel.only_changed else "every value"


TUNE_COMMANDS: tuple[Command, ...] = (
    Command(("up",), "before", "up", "the value above", moving(-1), 0),
    Command(("down",), "next", "down", "the value below", moving(1), 0),
    Command(("left",), "less", "less", "one step less", _step(-1), 1, "←"),
    Command(("right",), "more", "more", "one step more", _step(1), 1, "→"),
    Command(("shift+left",), "much_less", "", "ten steps less", _step(-10), 0),
    Command(("shift+right",), "much_more", "", "ten steps more", _step(10), 0),
    Command(("pageup",), "section_before", "", "the section before", _section(-1), 0),
    Command(("pagedown",), "section_next", "section", "the next section", _section(1), 2, "pgdn"),
    Command(("backspace",), "reset", "file's value", "put the file's value back", _reset, 2, "⌫"),
    Command(
        ("slash",),
        "only_changed",
        "only changed",
        "show only what differs from the file",
        _only_changed,
        2,
        "/",
    ),
    Command(("escape",), "close", "close", "close", lambda panel: panel.host.open_drawer(""), 1),
)


class TunePanel(ListPanel):
    """A list of knobs by section, a slider for the one looked at, and what it means."""

    title: ClassVar[str] = "tune"
    letter: ClassVar[str] = "t"
    every: ClassVar[int] = 2
    help: ClassVar[str] = """\
Every value that can be turned while the robot drives. ↑ and ↓ choose, ← and → change it by one step (with
shift by ten), typing a number and enter sets it. The next tick runs with it.

u takes an edit back, U makes it again, both without end. x changes
over between two tunings A and B, X makes the other one equal to this one; backspace puts the file's value
back.
^s saves to the profile: comments and order are kept and the old file stays beside it as a backup. Edits
that are not saved are kept in a recovery file from the moment they are made."""
    signs: ClassVar[tuple[tuple[str, str], ...]] = (
        ("✎", "differs from the file"),
        ("▸", "the value looked at"),
        ("█▌", "its place in its range; a value that can be negative grows from zero to either side"),
        ("✕", "why a value was not taken"),
    )
    commands: ClassVar[tuple[Command, ...]] = TUNE_COMMANDS

    def on_mount(self) -> None:
        """Nothing is typed, and every value shown."""
        self.typed = ""
        self.said = ""
        self.only_changed = False

    @property
    def shown(self) -> list[Knob]:
        """The knobs in the list."""
        tuning = self.bench.session.tuning
        if not self.only_changed:
            return list(tuning.knobs)
        changed = changed_keys(tuning)
        return [knob for knob in tuning.knobs if knob.key in changed]

    @property
    def count(self) -> int:
        """How many knobs."""
        return len(self.shown)

    @property
    def knob(self) -> Knob | None:
        """The one looked at; None where there is none."""
        shown = self.shown
        return shown[min(self.at, len(shown) - 1)] if shown else None

    def move(self, by: int) -> None:
        """Look at another value."""
        super().move(by)
        self.typed = self.said = ""
        self.follow()

    def set_to(self, value: Scalar, *, drag: bool = False) -> None:
        """Change the value looked at; what is wrong with it is shown instead of done."""
        knob = self.knob
        if knob is not None:
            self.said = self.bench.session.tuning.set(knob.key, value, drag=drag)
            self.typed = ""

    def take_key(self, event: events.Key) -> bool:
        """Digits typed for a value; whether the key was one of them."""
        letter = event.character or ""
        if letter in "0123456789.+-" and letter and (self.typed or letter != "+"):
            self.typed += letter
        elif event.key == "backspace" and self.typed:
            self.typed = self.typed[:-1]
        elif event.key == "enter" and self.typed:
            knob = self.knob
            if knob is not None:
                value = typed_value(knob, self.typed)
                self.said, self.typed = ("not a number", "") if value is None else ("", self.typed)
                if value is not None:
                    self.set_to(value)
        elif event.key == "escape" and self.typed:
            self.typed = ""
        else:
            return False
        return True

    def note(self) -> str:
        """Side and number of changes."""
        view = self.bench.snapshot.tuning
        return f"{view.side} · {view.changed} changed · undo {view.undo}"

    def draw(self, width: int, height: int) -> list[Row]:
        """The list around the cursor, and the value looked at in full."""
        shown = self.shown
        if not shown:
            said = "nothing differs from the file" if self.only_changed else "nothing to turn"
            return [row_of(width, [(2, said, "dim")])]
        self.at = min(self.at, len(shown) - 1)
        changed = changed_keys(self.bench.session.tuning)

        def line(number: int) -> Row:
            knob = shown[number]
            fresh = number == self.sight.start or shown[number - 1].group != knob.group
            return self._line(knob, number == self.at, fresh, knob.key in changed, width)

        return self.listed(line, self._foot(width), width, height)

    def on_click(self, event: events.Click) -> None:
        """Choose; on the slider, set."""
        if self.clicked(event):
            self.typed = self.said = ""
            self.follow()
        self.host.paint_all()

    def follow(self) -> None:
        """The response shows the stick or shape that is tuned."""
        knob = self.knob
        if knob is None:
            return
        kind, _, name = knob.group.partition(".")
        for stick in self.bench.sticks:
            if (kind == "stick" and stick.name == name) or (kind == "shape" and stick.shape == name):
                self.bench.looking.stick = stick.name
                return

    def _line(self, knob: Knob, here: bool, fresh: bool, changed: bool, width: int) -> Row:
        ground = "/plate" if here else ""
        value = self.bench.session.tuning.value(knob.key)
        said = f"{self.typed}▏" if here and self.typed else written(value)
        words = f"{said} {knob.unit}".rstrip() if knob.unit else said
        group = fit(knob.group, 18) if fresh else ""
        mark = ("✎", f"warn{ground}!") if changed else ("▸" if here else " ", f"accent{ground}")
        label = fit(knob.label, max(width - 24 - len(words), 6))
        pieces = [(1, *mark), (3, group, f"dim{ground}"), (22, label, f"head{ground}!" if here else "text")]
        pieces.append((width - 1 - len(words), words, f"{'live' if here else 'text'}{ground}"))
        return row_of(width, pieces, f"text{ground}")

    def _foot(self, width: int) -> list[Row]:
        knob = self.knob
        if knob is None:
            return []
        tuning = self.bench.session.tuning
        value = tuning.value(knob.key)
        rows = [rule(width)]
        if knob.choices:
            choices = "  ".join(f"[{c}]" if c == value else c for c in knob.choices)
            rows.append(row_of(width, [(2, fit(choices, width - 3), "text")]))
        elif knob.kind == "flag":
            rows.append(row_of(width, [(2, "[yes]  no" if value else "yes  [no]", "text")]))
        else:
            rows.append(self._slider(knob, value, width))
        filed = f"file {written(tuning.value(knob.key, filed=True))}   range {knob.low:g} to {knob.high:g}"
        filed = f"{filed} {knob.unit}".rstrip()
        if knob.choices or knob.kind == "flag":
            filed = f"file {written(tuning.value(knob.key, filed=True))}"
        rows.append(row_of(width, [(2, fit(filed, width - 3), "dim")]))
        return [*rows, *self._words(knob, width)]

    def _words(self, knob: Knob, width: int) -> list[Row]:
        said = self.said or self.bench.snapshot.tuning.refused
        words = [(line, "bad") for line in wrapped(f"✕ {plain(said)}", width - 3)] if said else []
        words += [(line, "dim") for line in wrapped(plain(knob.help), width - 3)]
        return [row_of(width, [(2, line, style)]) for line, style in words[:LIST_WORDS]]

    def _slider(self, knob: Knob, value: object, width: int) -> Row:
        number = float(value) if isinstance(value, int | float) else knob.low
        whole = (knob.reach - knob.low) or 1.0
        ends = f"{knob.low:g}", f"{knob.reach:g}"
        at = 3 + len(ends[0])
        bar = max(width - at - len(ends[1]) - 4, 4)
        pieces = [(2, ends[0], "dim"), (at + bar + 1, ends[1], "dim")]
        zero = min(max(-knob.low / whole, 0.0), 1.0)  # a signed value grows from zero, to either side
        place = (number - knob.low) / whole
        mark = 0.25 / bar if abs(place - zero) * bar < 0.5 else 0.0  # a value at zero is still seen
        return row_with(width, pieces, (at, span(zero - mark, place + mark, bar, "live")))


def changed_keys(tuning: Tuning) -> frozenset[str]:
    """Keys of what differs from the file, in the loadout that is tuned."""
    keys = [change.key for change in tuning.edits()]
    for section, name in fitting_of(tuning.loadout).overlays:
        keys = [key.removeprefix(f"{section}.{name}.") for key in keys]
    return frozenset(keys)
