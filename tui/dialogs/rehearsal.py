"""Beginning, saving and ending the guided receiver test on the bench."""

from mixer.link.rehearse.listening import Rehearsing
from mixer.link.source import LinkSource
from tui.bench.host import Host
from tui.dialogs.files import ask_file
from tui.dialogs.windows import Ask

CAUTION = (
    "You will move the sticks and switch the transmitter off while the robot is powered.\n\n"
    "Are the wheels off the ground, the weapon locked, and everybody's fingers away?"
)
LEAVING = (("save", "save them first"), ("leave", "throw them away"), ("stay", "stay here"))
CHOICES = (("yes", "yes, all of it"), ("no", "no, not yet"))


def begin_rehearsal(screen: Host) -> None:
    """Ask for wheels up and weapon locked, then open the receiver test; one that runs is shown again."""
    bench = screen.bench
    if bench.rehearsing is not None:
        screen.open_drawer("rehearse")
        return
    link = bench.session.link
    if not isinstance(link, LinkSource):
        bench.say("the guided test needs a real receiver: start with --port PORT")
        return

    def answered(answer: str | None) -> None:
        if answer == "yes":
            bench.rehearsing = Rehearsing(link, bench.session.robot.plan)
            bench.session.use("link")  # the picture beside it shows the receiver that is tested
            screen.open_drawer("rehearse")

    screen.app.push_screen(Ask("the guided receiver test", CAUTION, CHOICES), answered)


def end_rehearsal(screen: Host) -> None:
    """Break it off, or close it when it is over; asks before verdicts are thrown away."""
    running = screen.bench.rehearsing
    if running is None or not running.unsaved:
        _close(screen)
        return

    def answered(answer: str | None) -> None:
        if answer == "save":
            save_rehearsal(screen)
        elif answer == "leave":
            _close(screen)

    words = f"{len(running.verdicts)} steps have been judged and are in no file."
    screen.app.push_screen(Ask("leave the receiver test?", words, LEAVING), answered)


def repeat_rehearsal_step(screen: Host) -> None:
    """Go through the last judged step anew."""
    running = screen.bench.rehearsing
    if running is not None:
        screen.bench.attempt(running.repeat)


def _close(screen: Host) -> None:
    if screen.bench.rehearsing is not None:
        screen.bench.rehearsing.end()
        screen.bench.rehearsing = None
    screen.open_drawer("")


def save_rehearsal(screen: Host) -> None:
    """Ask for a file and write the result."""
    running = screen.bench.rehearsing
    if running is not None:
        words = "The result, for the sheet:"
        ask_file(screen, "save the rehearsal", words, "rehearsal.json", running.save, "saved")
