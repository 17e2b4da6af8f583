"""Travel with its end stops, and shares of something with a mark that must not be passed."""

from tui.drawing.bars import eighths
from tui.drawing.rows import Run


def travel(share: float, width: int, *, in_closed: bool | None, out_closed: bool | None) -> list[Run]:
    """A screw from in (left) to out (right) between its stops; None where no stop is seen.

    Below three cells there is room for the screw alone.
    """
    inner = width - 2 if width > 2 else width
    place = round(min(max(share, 0.0), 1.0) * (inner * 8 - 8))
    nut = eighths(inner, [(place, "rod"), (place + 8, "live")], "track")
    if width <= 2:
        return nut
    return [stop(in_closed, left=True), *nut, stop(out_closed, left=False)]


def stop(closed: bool | None, *, left: bool) -> Run:
    """One end: ``◆`` closed, ``◇`` open, a bracket where no switch is seen."""
    if closed is None:
        return ("[" if left else "]"), "dim"
    return ("◆", "warn!") if closed else ("◇", "dim")


def thin(share: float, width: int, ink: str) -> list[Run]:
    """A slim bar from the left in half cells, for what is a state and no command."""
    halves = round(min(max(share, 0.0), 1.0) * width * 2)
    whole, part = divmod(halves, 2)
    runs = [("━" * whole, ink), ("╸" * part, ink), ("─" * (width - whole - part), "faint")]
    return [run for run in runs if run[0]]


def limit_gauge(value: float, limit: float, width: int) -> list[Run]:
    """How near `value` is to its limit; from 85 % on it warns, past it it is bad."""
    share = value / limit if limit else 0.0
    return thin(share, width, "bad" if share >= 1 else "warn" if share >= 0.85 else "calm")


def grade(share: float) -> tuple[str, str]:
    """Glyph and style for a share of a limit."""
    if share >= 1:
        return "✕", "bad!"
    return ("▲", "warn!") if share >= 0.85 else ("·", "dim")


def charge_gauge(share: float, width: int) -> list[Run]:
    """What is left in the battery."""
    return thin(share, width, "bad" if share < 0.1 else "warn" if share < 0.25 else "calm")
