"""Questions of the course: who drives, what a comparison is to find out, and whether to end it."""

import time
from typing import TYPE_CHECKING

from mixer.course.desk.desk import Desk
from mixer.course.run.measures import MEASURES
from mixer.course.study.compare import SHARES
from mixer.course.study.words import verdict
from mixer.system import data_folder
from tui.bench.host import Host
from tui.dialogs.windows import Ask, AskText

if TYPE_CHECKING:
    from tui.panels.base import Panel

ASKS = (
    "You drive A and B in turns, dealt by lot, and nothing says which. What is to be found out? The other "
    "measures are told as well, as far as they can be told apart from chance."
)
WHO = "Who drives? Runs of different drivers are never compared. It is asked once and kept here."
EARLY = (
    "Ended now it tells what can be told of these; it takes six to tell anything. Nothing has said yet "
    "which tuning was which, so that ending early is fair; but ended it stays."
)


def take_place(screen: Host) -> None:
    """Have a course beside the session: begin to measure the robot. Raises OptionError without physics."""
    bench = screen.bench
    if bench.desk is None or bench.desk.stale:
        bench.desk = Desk(bench.session, data_folder() / "course")


def start(panel: "Panel") -> None:
    """Put the robot at the start; before the first run of all ask who drives."""
    desk, screen = panel.bench.desk, panel.host
    if desk is None or not desk.tasks:
        return
    if desk.task is None:
        desk.choose(desk.tasks[0].key)
    if desk.shelf.driver:
        desk.start()
        return

    def typed(name: str | None) -> None:
        if name:
            screen.bench.attempt(lambda: desk.shelf.name_driver(name))
        screen.bench.attempt(desk.start)
        screen.paint_all()

    screen.app.push_screen(AskText("the driver", WHO, ""), typed)


def begin_or_end(panel: "Panel") -> None:
    """Begin a blind comparison, or end the one under way."""
    desk = panel.bench.desk
    if desk is None:
        return
    if desk.blind is None:
        _ask_question(panel.host, desk)
    elif desk.blind.enough:
        _reveal(panel.host, desk)
    else:
        choices = (("no", "drive on"), ("yes", "end it now"), ("later", "leave it"))
        said = f"{desk.blind.pair} pairs are driven. {EARLY}"

        def answered(answer: str | None) -> None:
            if answer == "yes":
                _reveal(panel.host, desk)

        panel.host.app.push_screen(Ask("end the comparison?", said, choices), answered)


def _ask_question(screen: Host, desk: Desk) -> None:
    choices = [(key, f"{MEASURES[key].label}, from {share:.0%} on") for key, share in SHARES.items()]

    def answered(answer: str | None) -> None:
        if answer in SHARES:
            screen.bench.attempt(lambda: desk.compare(answer, time.time_ns() % (1 << 40)))
            screen.paint_all()

    screen.app.push_screen(Ask("compare A and B blindly", ASKS, (*choices, ("no", "not now"))), answered)


def _reveal(screen: Host, desk: Desk) -> None:
    result = desk.reveal()
    if result is None or desk.task is None:
        screen.bench.tell("the comparison is ended: no pair was driven")
    else:
        screen.bench.tell(verdict(result, desk.task.past_unit))
    screen.paint_all()
