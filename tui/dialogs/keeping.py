"""Unsaved edits: what is asked and told of them, so that none is lost and none overwrites anything."""

from collections.abc import Sequence

from mixer.live.tuning.offers import Offer, Offers
from mixer.live.tuning.tuning import SIDES, Tuning
from mixer.live.tuning.windows import Window
from mixer.profile.edit.differences import Change
from tui.bench.host import Host
from tui.bench.state import Bench
from tui.dialogs.files import ask_file
from tui.dialogs.windows import Ask

LOOK_EVERY_S = 1.0
FILE_CHOICES = (
    ("over", "read the file again, with these edits laid over it"),
    ("name", "save this side under another name"),
    ("drop", "throw the edits away and read the file"),
    ("stay", "leave all as it is"),
)
LISTED = 6
"""Values that a question lists; of more it gives the number."""


def save(screen: Host) -> bool:
    """Write the side in use to the profile's file; whether that went well."""
    where, tuning = screen.bench.where, screen.bench.session.tuning
    same = not tuning.edits() and where.exists()
    if tuning.file.look() == "changed" and not same:
        reload(screen)  # another program has written it: saving would overwrite that
        return False
    backup = screen.bench.attempt(lambda: (tuning.save(),))
    if not isinstance(backup, tuple):
        return False
    old = f", old file: {backup[0].name}" if backup[0] else ""
    old += f"; not in its journal: {tuning.unnoted}" if tuning.unnoted else ""
    screen.bench.say(
        f"nothing to save: {where.name} says so already" if same else f"saved to {where.name}{old}"
    )
    return True


def save_as(screen: Host) -> None:
    """Ask for a name and write the side in use there; the bench stays with its own file."""
    where, tuning = screen.bench.where, screen.bench.session.tuning
    words = f"Side {tuning.view().side} into a new file; this bench stays with {where.name}:"
    proposed = str(where.with_name(f"{where.stem}_2.toml"))
    ask_file(
        screen,
        "save under another name",
        words,
        proposed,
        tuning.save,
        f"side {tuning.view().side} saved as",
    )


def reload(screen: Host) -> None:
    """Take the file as it is now; where something is unsaved, ask what is to become of that."""
    tuning, where = screen.bench.session.tuning, screen.bench.where
    if tuning.view().saved:
        _read_again(screen)
        return

    def answered(answer: str | None) -> None:
        if answer == "over":
            _read_again(screen)
        elif answer == "name":
            save_as(screen)
        elif answer == "drop":
            tuning.throw_away()
            _read_again(screen)
        screen.paint_all()

    stands = {"changed": "has changed on the disk", "gone": "is gone from the disk"}.get(
        tuning.view().file, ""
    )
    words = f"{where.name} {stands or 'is as it was read'}.\n\n{_unsaved(tuning)}"
    screen.app.push_screen(Ask("the profile's file", words, FILE_CHOICES), answered)


def _read_again(screen: Host) -> None:
    """Read the file, with unsaved edits laid over it."""
    bench = screen.bench
    left = bench.attempt(bench.session.tuning.reload)
    if left is None:
        return
    if isinstance(left, tuple) and left:
        said = "; ".join(map(str, left[:2]))
        bench.say(
            f"read again; {len(left)} edits do not fit it any more (u brings them back): {said}", "warn"
        )
    else:
        over = "" if bench.session.tuning.view().saved else "; unsaved edits lie over it, u takes it back"
        bench.say(f"{bench.where.name} was read again{over}")


def leave(screen: Host) -> None:
    """Leave; where something is unsaved on either side, ask what is to become of it."""
    tuning = screen.bench.session.tuning
    if tuning.view().saved:
        screen.app.exit()
        return

    def answered(answer: str | None) -> None:
        if answer == "save" and not save(screen):
            return
        if answer == "drop":
            tuning.throw_away()
        if answer in ("save", "keep", "drop"):
            screen.app.exit()

    now = tuning.view()
    other = " (the other side is kept for next time)" if now.elsewhere else ""
    choices = (
        ("save", f"save side {now.side} to {screen.bench.where.name}{other}"),
        ("keep", "keep them unsaved for next time"),
        ("drop", "throw them away"),
        ("stay", "stay here"),
    )
    screen.app.push_screen(Ask("unsaved edits", _unsaved(tuning), choices), answered)


def _unsaved(tuning: Tuning) -> str:
    """What both sides differ in from the file."""
    return "\n\n".join(_listed(f"side {side}", tuning.edits(side)) for side in SIDES if tuning.edits(side))


def offer_recovered(screen: Host, offers: Offers) -> None:
    """Offer what windows left that have ended, one after another, the newest first."""
    found = offers.next()
    if found is None:
        return

    def answered(answer: str | None) -> None:
        if answer == "take":
            said = offers.take(found)
            screen.bench.say(said or "earlier edits taken over", "warn" if said else "note")
        elif answer == "drop":
            offers.throw_away(found)
            screen.bench.say("earlier edits thrown away")
        else:
            offers.put_off(found)
        offer_recovered(screen, offers)

    choices = (("take", "take them over"), ("drop", "throw them away"), ("later", "decide later"))
    screen.app.push_screen(Ask("unsaved edits of an earlier run", _offered(found), choices), answered)


def tell_of_others(screen: Host) -> None:
    """At the start: who else has this profile open."""
    open_window = screen.bench.session.tuning.recovery.open_window
    if open_window.problem:
        screen.bench.tell(open_window.problem, "warn")
    others = screen.bench.others = tuple(open_window.others())
    if others:
        words = (
            f"{_names(others)} has {screen.bench.where.name} open too.\n\nEach window keeps its own edits. "
            "Whoever saves second is told that the file has changed, and overwrites nothing."
        )
        screen.app.push_screen(Ask("open in another window", words, (("go", "go on"),)))


class Watch:
    """Looks once a second whether the file has changed on the disk, and who else has it open."""

    def __init__(self) -> None:
        self._next_s = 0.0
        self._told = ""

    def look(self, bench: Bench) -> None:
        """Tell what is new."""
        if bench.clock() < self._next_s:
            return
        self._next_s = bench.clock() + LOOK_EVERY_S
        self._look_at_file(bench, bench.session.tuning)
        before, bench.others = bench.others, tuple(bench.session.tuning.recovery.open_window.others())
        if fresh := [window for window in bench.others if window not in before]:
            bench.tell(f"{_names(fresh)} has opened {bench.where.name} too", "warn")

    def _look_at_file(self, bench: Bench, tuning: Tuning) -> None:
        stands = tuning.file.look()
        if stands == self._told:
            return
        self._told = stands
        if stands == "gone":
            bench.tell(f"{bench.where.name} is gone from the disk: ^s writes it anew", "warn")
        elif stands:
            words = f"{bench.where.name} has changed on the disk: r reads it again, F saves elsewhere"
            bench.tell(words, "warn")


def _offered(found: Offer) -> str:
    made = f"Made {found.made} in {found.window}." if found.made else "Made by an earlier version."
    parts = [_listed(f"side {side}", changes) for side, changes in found.changes.items() if changes]
    also = (
        "The profile's file has been written since; they would be laid over it."
        if found.file_changed
        else ""
    )
    return "\n\n".join(part for part in (made, *parts, also) if part)


def _listed(what: str, changes: Sequence[Change]) -> str:
    count = "1 value differs" if len(changes) == 1 else f"{len(changes)} values differ"
    more = [f"and {len(changes) - LISTED} more"] if len(changes) > LISTED else []
    return "\n".join([f"{what}: {count} from the file", *map(str, changes[:LISTED]), *more])


def _names(windows: Sequence[Window]) -> str:
    return " and ".join(f"{window.name}, since {window.since}," for window in windows)
