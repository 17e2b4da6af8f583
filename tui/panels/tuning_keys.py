"""What keys do to the value that is looked at in the tune panel."""

from typing import TYPE_CHECKING

from mixer.profile.edit.knobs import Knob
from tui.commands import Command

if TYPE_CHECKING:
    from tui.panels.tune import TunePanel


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


def step_of(knob: Knob, value: object, steps: int) -> object:
    """The value some steps on; choices and flags go round, numbers stop at their ends."""
    if knob.kind == "flag":
        return not value
    if knob.choices:
        at = knob.choices.index(value) if value in knob.choices else 0
        return knob.choices[(at + (1 if steps > 0 else -1)) % len(knob.choices)]
    number = float(value) if isinstance(value, int | float) else float(knob.default or knob.low)
    moved = round(min(max(number + steps * knob.step, knob.low), knob.high), 9)
    return round(moved) if knob.kind == "whole" else moved


def _step(steps: int):  # noqa: ANN202
    def run(panel: "TunePanel") -> None:
        knob = panel.knob
        if knob is not None:
            panel.set_to(step_of(knob, panel.bench.session.tuning.value(knob.key), steps))

    return run


def _move(by: int):  # noqa: ANN202
    return lambda panel: panel.move(by)


def _section(by: int):  # noqa: ANN202
    def run(panel: "TunePanel") -> None:
        shown = panel.shown
        groups = [knob.group for knob in shown]
        order = list(dict.fromkeys(groups))
        if order:
            target = order[(order.index(groups[panel.at]) + by) % len(order)]
            panel.move(groups.index(target) - panel.at)

    return run


def _reset(panel: "TunePanel") -> None:
    if panel.knob is not None:
        panel.said = panel.bench.session.tuning.reset(panel.knob.key)


def _only_changed(panel: "TunePanel") -> None:
    panel.only_changed, panel.at = not panel.only_changed, 0


TUNE_COMMANDS: tuple[Command, ...] = (
    Command(("up",), "before", "up", "the value above", _move(-1), 0),
    Command(("down",), "next", "down", "the value below", _move(1), 0),
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
    Command(("escape",), "close", "close", "close", lambda panel: panel.screen.open_drawer(""), 1),
)
