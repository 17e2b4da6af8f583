"""The keys of the whole bench, in groups, in one table; what a key's work gives back as words is said."""

from collections.abc import Callable, Mapping
from itertools import chain

from mixer.profile.read.fitting import fitting_of
from tui.bench.commands import Command
from tui.bench.demonstration import begin_demonstration
from tui.bench.host import Host
from tui.bench.layout import pages_of, size_of
from tui.bench.state import SOURCES
from tui.dialogs.files import ask_file
from tui.dialogs.keeping import leave, reload, save, save_as
from tui.dialogs.rehearsal import begin_rehearsal
from tui.screens.help import show_help

NUDGE, LITTLE = 0.1, 0.01
PADS = (("a", "d", "s", "w"), ("j", "l", "k", "i"))
"""Keys of the first two pads: left, right, down, up."""
SPEEDS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)

Work = Callable[[Host], object]


def _stick_of(screen: Host, pad: int, upright: bool) -> str:
    pads = screen.bench.pads()
    return pads[pad][1 if upright else 0] if pad < len(pads) else ""


def _nudge(pad: int, upright: bool, by: float) -> Work:
    def run(screen: Host) -> str:
        name = _stick_of(screen, pad, upright)
        if name and screen.bench.keys_hold and abs(by) == NUDGE:
            screen.hold_stick(name, 1 if by > 0 else -1)
            return ""
        return _moved(screen, name, by)

    return run


def _moved(screen: Host, name: str, by: float) -> str:
    """Move a stick by hand, and say where it stands: at a small size no pad may be in sight."""
    if not name:
        return "there is no stick for this key"
    mode = screen.bench.snapshot.transport.mode
    if mode != "hand":
        return f"the {SOURCES[mode]} has the sticks: M changes over"
    sticks = screen.bench.session.sticks
    sticks.nudge(name, by)
    return f"{name} {round(sticks.value(name) * 100):+d} %"


def _pad_commands() -> list[Command]:
    found = []
    for pad, keys in enumerate(PADS):
        there = _has_pad(pad)
        words = f"the {('left', 'right')[pad]} pad: a press moves its stick by 10 %, with shift by 1 %"
        for place, key in enumerate(keys):
            upright, sign = place >= 2, -1 if place % 2 == 0 else 1
            said, told = (" ".join(keys), words) if place == 0 else ("", "")
            run = _nudge(pad, upright, sign * NUDGE)
            found.append(Command((key,), f"nudge_{key}", "", told, run, 0, said, there))
            little = _nudge(pad, upright, sign * LITTLE)
            found.append(Command((key.upper(),), f"nudge_{key}_little", "", "", little, 0, "", there))
    return found


def _has_pad(pad: int) -> Callable[[Host], bool]:
    return lambda screen: pad < len(screen.bench.pads())


def _switch(number: int) -> Work:
    def run(screen: Host) -> str:
        switches = screen.bench.snapshot.switches
        if number >= len(switches):
            return f"there is no switch number {number + 1}"
        switch, mode = switches[number], screen.bench.snapshot.transport.mode
        if mode not in ("hand", "pad"):
            return f"the {SOURCES[mode]} has the switches: M changes over"
        screen.cycle_switch(switch.name)
        return f"{switch.name}: {switch.positions[screen.bench.session.sticks.position(switch.name)]}"

    return run


def _has_switch(number: int) -> Callable[[Host], bool]:
    return lambda screen: number < len(screen.bench.snapshot.switches)


def _chosen(by: float) -> Work:
    return lambda screen: _moved(screen, screen.bench.stick, by)


def _stick(by: int) -> Work:
    def run(screen: Host) -> str:
        names = [stick.name for stick in screen.bench.sticks]
        if not names:
            return "this robot has no stick"
        chosen = names[(names.index(screen.bench.stick) + by) % len(names)]
        screen.bench.looking.stick = chosen
        return f"stick looked at: {chosen}"

    return run


def _centre(screen: Host) -> str:
    screen.bench.session.sticks.centre()
    return "all hand sticks at neutral"


def _pause(screen: Host) -> str:
    session, plays = screen.bench.session, screen.bench.snapshot.transport.playing
    (session.pause if plays else session.resume)()
    return "paused: space goes on" if plays else "goes on"


def _one_tick(screen: Host) -> str:
    screen.bench.session.pause()
    screen.bench.session.step(1)
    return f"paused, one tick on: {screen.bench.session.robot.time_s:.3f} s"


def _has_link(screen: Host) -> bool:
    return screen.bench.session.link is not None


def _has_log(screen: Host) -> bool:
    return screen.bench.session.replay is not None


def _tick_back(screen: Host) -> str:
    replay = screen.bench.session.replay
    if replay is None:
        return "only a log can go back: O opens one"
    screen.bench.session.pause()
    replay.seek(replay.position_s - screen.bench.snapshot.tick_ms / 1000)
    return f"paused, one tick back: {replay.position_s:.3f} s"


def _event(forward: bool) -> Work:
    def run(screen: Host) -> str:
        replay = screen.bench.session.replay
        if replay is None:
            return "no log is open: O opens one"
        if not (replay.next_event() if forward else replay.previous_event()):
            return "no further event"
        return f"an event of the log, at {replay.position_s:.2f} s"

    return run


def _speed(by: int) -> Work:
    def run(screen: Host) -> str:
        replay = screen.bench.session.replay
        if replay is None:
            return "only a log has a speed: O opens one"
        at = min(range(len(SPEEDS)), key=lambda place: abs(SPEEDS[place] - replay.speed))
        replay.set_speed(SPEEDS[min(max(at + by, 0), len(SPEEDS) - 1)])
        return f"the log at {replay.speed:g} times its speed"

    return run


def _drawer(name: str) -> Work:
    return lambda screen: screen.open_drawer("" if screen.bench.looking.drawer == name else name)


def _undo(screen: Host) -> str:
    key = screen.bench.session.tuning.undo()
    return f"taken back: {key}" if key else "nothing to take back"


def _redo(screen: Host) -> str:
    key = screen.bench.session.tuning.redo()
    return f"made again: {key}" if key else "nothing to make again"


def _swap(screen: Host) -> str:
    return f"tuning {screen.bench.session.tuning.swap()} drives"


def _copy(screen: Host) -> str:
    screen.bench.session.tuning.copy_across()
    return "the other tuning is now equal to this one"


def _record(screen: Host) -> str:
    session = screen.bench.session
    if session.recorder.path is not None:
        return f"recorded: {session.recorder.stop()}"
    words = "Everything that reaches the board, into this log:"
    ask_file(screen, "record", words, "bench.csv", session.record, "recording")
    return ""


def _open_log(screen: Host) -> str:
    if screen.bench.rehearsing is not None:
        return "the receiver test looks at the link: esc in its panel ends it first"
    words = "A recorded log (CSV), to replay:"
    ask_file(screen, "open a log", words, "", screen.bench.session.open_log, "opened, space plays")
    return ""


def _save_diary(screen: Host) -> None:
    words = "All events so far, as CSV:"
    ask_file(screen, "save the diary", words, "events.csv", screen.bench.session.events.save, "saved")


def _loadout(screen: Host) -> str:
    session = screen.bench.session
    names = session.tuning.profile.fittings
    if len(names) == 1:
        return "the profile describes nothing else to fit"
    session.change_loadout(names[(names.index(session.tuning.loadout) + 1) % len(names)])
    screen.settle()
    return f"now {fitting_of(session.tuning.loadout).title}, powered up anew"


def _there(screen: Host) -> list[str]:
    """Who could move the sticks now."""
    session = screen.bench.session
    there = {"hand": session.sticks, "link": session.link, "pad": session.pad, "replay": session.replay}
    return [mode for mode in SOURCES if there.get(mode) is not None]


def _sources(screen: Host) -> str:
    """The next of those that can move the sticks, round and round: the one key leads back as well."""
    bench, modes = screen.bench, _there(screen)
    if bench.rehearsing is not None:
        return "the receiver test looks at the link: esc in its panel ends it first"
    if len(modes) == 1:
        return "only the hands are here: O opens a log, --port brings a receiver"
    mode = modes[(modes.index(bench.snapshot.transport.mode) + 1) % len(modes)]
    bench.session.use(mode)
    others = ", ".join(SOURCES[other] for other in modes if other != mode)
    return f"sticks from: {SOURCES[mode]}; M goes on to {others}"


def _power(screen: Host) -> str:
    screen.bench.session.power_up()
    return "switched off and on: the robot stands at its start"


def _springs(screen: Host) -> str:
    bench = screen.bench
    bench.springs = not bench.springs
    return (
        "sticks spring back when the mouse lets go" if bench.springs else "sticks stay where they are put"
    )


def _held(screen: Host) -> str:
    bench = screen.bench
    bench.keys_hold = not bench.keys_hold
    return (
        "a key that is held runs the stick, let go it springs back"
        if bench.keys_hold
        else "a key moves by 10 %"
    )


def _pages(screen: Host) -> int:
    return pages_of(size_of(*screen.size))


def _page(screen: Host) -> str:
    looking, pages = screen.bench.looking, _pages(screen)
    looking.page = (looking.page + 1) % pages
    looking.drawer = ""
    screen.settle()
    return f"page {looking.page + 1} of {pages}" if pages > 1 else "everything is on this page"


def _jump(screen: Host) -> str:
    screen.bench.looking.jumping = True
    return "press the letter of a panel to go there"


def _help(screen: Host) -> None:
    show_help(screen, GROUPS)


GROUPS: Mapping[str, tuple[Command, ...]] = {
    "sticks and switches": (
        *(
            Command(
                (str(number + 1),),
                f"switch_{number + 1}",
                "" if number else "switch",
                f"move switch {number + 1} on",
                _switch(number),
                0 if number else 2,
                when=_has_switch(number),
            )
            for number in range(9)
        ),
        *_pad_commands(),
        Command(("c",), "centre", "centre", "all sticks to neutral", _centre),
        Command(("left_square_bracket",), "stick_before", "", "look at the stick before", _stick(-1), 0),
        Command(("right_square_bracket",), "stick_next", "", "look at the next stick", _stick(1), 0),
        Command(("minus",), "stick_less", "", "move that stick down by 10 %", _chosen(-NUDGE), 0),
        Command(("equals_sign",), "stick_more", "", "move that stick up by 10 %", _chosen(NUDGE), 0),
        Command(("H",), "springs", "", "whether sticks spring back when the mouse lets go", _springs, 0),
        Command(("Z",), "keys_hold", "", "keys move by steps, or run a stick while held", _held, 0),
        Command(
            ("M",), "sources", "sticks from", "who has them: hands, log, link or controller", _sources,
            when=lambda screen: len(_there(screen)) > 1,
        ),
    ),
    "tune and keep": (
        Command(("t",), "tune", "tune", "turn the profile's values while it drives", _drawer("tune"), 2),
        Command(("f",), "feel", "feel", "what to turn for what a driver feels", _drawer("feel")),
        Command(("u",), "undo", "undo", "take the last edit back", _undo),
        Command(("U",), "redo", "redo", "make it again", _redo),
        Command(("x",), "swap", "A/B", "change over to the other tuning", _swap),
        Command(("X",), "copy", "", "make the other tuning equal to this one", _copy, 0),
        Command(("ctrl+s",), "save", "save", "write the tuning to the profile; the old file is kept", save),
        Command(("F",), "save_as", "", "save the tuning under another name", save_as, 0),
        Command(("r",), "reload", "", "read the profile's file again, or throw edits away", reload, 0),
        Command(
            ("o",), "loadout", "", "the next loadout, driver or receiver of the profile", _loadout, 0,
            when=lambda screen: len(screen.bench.session.tuning.profile.fittings) > 1,
        ),
    ),
    "break and test": (
        Command(
            ("C",), "course", "course", "a course: drive it, or A against B blindly", _drawer("course"),
            when=lambda screen: screen.bench.snapshot.physics is not None,
        ),
        Command(("b",), "break", "break", "put faults in and out", _drawer("faults"), 2),
        Command(("P",), "power", "power", "switch the board off and on", _power),
        Command(
            ("G",), "rehearse", "", "the guided receiver test, over the link", begin_rehearsal, 0,
            when=_has_link,
        ),
        Command(
            ("V",), "board", "board", "the board at the link: its tuning, its mix against the core",
            _drawer("board"), when=_has_link,
        ),
    ),
    "time and logs": (
        Command(("space",), "pause", "pause", "pause, and go on", _pause, 2, "space"),
        Command(("full_stop",), "tick", "tick", "one tick on", _one_tick),
        Command(("comma",), "tick_back", "", "one tick back", _tick_back, 0, when=_has_log),
        Command(("n",), "event_next", "", "to the next event", _event(forward=True), 0, when=_has_log),
        Command(("N",), "event_before", "", "to the event before", _event(forward=False), 0, when=_has_log),
        Command(("less_than_sign",), "slower", "", "replay slower", _speed(-1), 0, when=_has_log),
        Command(("greater_than_sign",), "faster", "", "replay faster", _speed(1), 0, when=_has_log),
        Command(("O",), "open", "open log", "open a log to replay", _open_log),
        Command(("R",), "record", "record", "record what reaches the board, or end it", _record),
        Command(("E",), "diary", "", "save the diary to a file", _save_diary, 0),
    ),
    "look": (
        Command(("e",), "explain", "explain", "the chain of numbers of an output", _drawer("explain"), 2),
        Command(
            ("v",), "page", "page", "the next page, where not all fits", _page, 2,
            when=lambda screen: _pages(screen) > 1,
        ),
        Command(
            ("p",), "demonstrate", "watch", "ten seconds: it drives itself, the radio breaks, it stops",
            begin_demonstration, 2,
        ),
        Command(("g",), "jump", "jump", "then the letter of a panel: go there", _jump),
        Command(("T",), "theme", "light/dark", "light or dark", lambda screen: screen.app.change_theme()),
        Command(("f1", "question_mark"), "help", "help", "this page", _help, 1, "F1"),
        Command(("q", "ctrl+q", "ctrl+c"), "leave", "leave", "leave the bench", leave, 1),
    ),
}  # fmt: skip
"""What can be done anywhere, by what it is about; the order is that of foot and help."""

BENCH_COMMANDS: tuple[Command, ...] = tuple(chain.from_iterable(GROUPS.values()))
"""The first command that has a key wins; those of the focused panel come before all."""
