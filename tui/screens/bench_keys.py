"""The keys of the whole bench, in one table."""

from collections.abc import Callable

from tui.bench.commands import Command
from tui.bench.demonstration import begin_demonstration
from tui.bench.host import Host
from tui.bench.layout import pages_of, size_of
from tui.dialogs.files import ask_file
from tui.dialogs.keeping import leave, reload, save, save_as
from tui.dialogs.rehearsal import begin_rehearsal
from tui.screens.help import show_help

NUDGE, LITTLE = 0.1, 0.01
PADS = (("a", "d", "s", "w"), ("j", "l", "k", "i"))
"""Keys of the first two pads: left, right, down, up."""
SPEEDS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)

Work = Callable[[Host], object]


def _nudge(pad: int, upright: bool, by: float) -> Work:
    def run(screen: Host) -> None:
        pads = screen.bench.pads()
        name = pads[pad][1 if upright else 0] if pad < len(pads) else ""
        if name and screen.bench.keys_hold and abs(by) == NUDGE:
            screen.hold_stick(name, 1 if by > 0 else -1)
        elif name:
            screen.bench.session.sticks.nudge(name, by)

    return run


def _pad_commands() -> list[Command]:
    found = []
    for pad, keys in enumerate(PADS):
        for place, key in enumerate(keys):
            upright, sign = place >= 2, -1 if place % 2 == 0 else 1
            words = f"pad {pad + 1}: {('left', 'right', 'down', 'up')[place]} by 10 %, with shift by 1 %"
            run = _nudge(pad, upright, sign * NUDGE)
            found.append(Command((key,), f"nudge_{key}", "", words, run, 0))
            little = _nudge(pad, upright, sign * LITTLE)
            found.append(Command((key.upper(),), f"nudge_{key}_little", "", words, little, 0))
    return found


def _switch(number: int) -> Work:
    def run(screen: Host) -> None:
        switches = screen.bench.snapshot.switches
        if number < len(switches):
            screen.cycle_switch(switches[number].name)

    return run


def _chosen(by: float) -> Work:
    return lambda screen: screen.bench.session.sticks.nudge(screen.bench.stick, by)


def _stick(by: int) -> Work:
    def run(screen: Host) -> None:
        names = [stick.name for stick in screen.bench.sticks]
        if names:
            screen.bench.looking.stick = names[(names.index(screen.bench.stick) + by) % len(names)]

    return run


def _hold(screen: Host) -> None:
    session = screen.bench.session
    (session.pause if screen.bench.snapshot.transport.playing else session.resume)()


def _one_tick(screen: Host) -> None:
    screen.bench.session.pause()
    screen.bench.session.step(1)


def _one_tick_back(screen: Host) -> None:
    replay = screen.bench.session.replay
    if replay is not None:
        screen.bench.session.pause()
        replay.seek(replay.position_s - screen.bench.snapshot.tick_ms / 1000)


def _event(forward: bool) -> Work:
    def run(screen: Host) -> None:
        replay = screen.bench.session.replay
        if replay is None:
            screen.bench.say("no log is open: O opens one")
        elif not (replay.next_event() if forward else replay.previous_event()):
            screen.bench.say("no further event")

    return run


def _speed(by: int) -> Work:
    def run(screen: Host) -> None:
        replay = screen.bench.session.replay
        if replay is not None:
            at = min(range(len(SPEEDS)), key=lambda place: abs(SPEEDS[place] - replay.speed))
            replay.set_speed(SPEEDS[min(max(at + by, 0), len(SPEEDS) - 1)])

    return run


def _drawer(name: str) -> Work:
    return lambda screen: screen.open_drawer("" if screen.bench.looking.drawer == name else name)


def _undo(screen: Host) -> None:
    key = screen.bench.session.tuning.undo()
    screen.bench.say(f"taken back: {key}" if key else "nothing to take back")


def _redo(screen: Host) -> None:
    key = screen.bench.session.tuning.redo()
    screen.bench.say(f"made again: {key}" if key else "nothing to make again")


def _swap(screen: Host) -> None:
    screen.bench.say(f"tuning {screen.bench.session.tuning.swap()}")


def _copy(screen: Host) -> None:
    screen.bench.session.tuning.copy_across()
    screen.bench.say("the other tuning is now equal to this one")


def _record(screen: Host) -> None:
    session = screen.bench.session
    if session.recorder.path is not None:
        path = session.recorder.stop()
        screen.bench.say(f"recorded: {path}")
        return
    ask_file(
        screen, "record", "Everything that reaches the board, into this log:", "bench.csv", session.record
    )


def _open_log(screen: Host) -> None:
    words = "A recorded log (CSV), to replay:"
    ask_file(screen, "open a log", words, "", screen.bench.session.open_log)


def _save_diary(screen: Host) -> None:
    words = "All events so far, as CSV:"
    ask_file(screen, "save the diary", words, "events.csv", screen.bench.session.events.save)


def _loadout(screen: Host) -> None:
    session = screen.bench.session
    names: list[str | None] = [None, *session.tuning.profile.loadouts]
    if len(names) == 1:
        screen.bench.say("the profile describes no other loadout")
        return
    session.change_loadout(names[(names.index(session.tuning.loadout) + 1) % len(names)])
    screen.settle()


def _sources(screen: Host) -> None:
    """The next of those that can move the sticks, round and round: a key always leads back."""
    bench, session = screen.bench, screen.bench.session
    if bench.rehearsing is not None:
        bench.say("the receiver test looks at the link: esc in its panel ends it first")
        return
    there = {"hand": session.sticks, "link": session.link, "pad": session.pad, "replay": session.replay}
    modes = [mode for mode, source in there.items() if source is not None]
    if len(modes) == 1:
        bench.say("only the hands are here: O opens a log, --port brings a receiver")
        return
    mode = modes[(modes.index(bench.snapshot.transport.mode) + 1) % len(modes)]
    session.use(mode)
    bench.say(f"sticks from: {mode}" + (f" (M: {', '.join(m for m in modes if m != mode)})"))


def _springs(screen: Host) -> None:
    bench = screen.bench
    bench.springs = not bench.springs
    bench.say(
        "sticks spring back when the mouse lets go" if bench.springs else "sticks stay where they are put"
    )


def _keys_hold(screen: Host) -> None:
    bench = screen.bench
    bench.keys_hold = not bench.keys_hold
    words = (
        "a held key runs the stick, let go it springs back" if bench.keys_hold else "a key moves by 10 %"
    )
    bench.say(words)


def _page(screen: Host) -> None:
    looking = screen.bench.looking
    looking.page = (looking.page + 1) % pages_of(size_of(*screen.size))
    looking.drawer = ""
    screen.settle()


def _jump(screen: Host) -> None:
    screen.bench.looking.jumping = True


BENCH_COMMANDS: tuple[Command, ...] = (
    Command(("space",), "pause", "pause", "pause, and go on", _hold, 1, "space"),
    Command(("t",), "tune", "tune", "turn the profile's values while it drives", _drawer("tune"), 1),
    Command(("b",), "break", "break", "put faults in and out", _drawer("faults"), 1),
    Command(("e",), "explain", "explain", "the chain of numbers of an output", _drawer("explain"), 1),
    Command(
        ("p",),
        "demonstrate",
        "watch",
        "ten seconds: it drives by itself, its radio breaks, it stops and says why",
        begin_demonstration,
    ),
    Command(("c",), "centre", "centre", "all sticks to neutral", lambda s: s.bench.session.sticks.centre()),
    Command(
        ("1",), "switch_1", "switch", "move the first switch on (2 the second, ...)", _switch(0), 1, "1-9"
    ),
    Command(("v",), "page", "page", "the next page, where not all fits", _page, 1),
    Command(("g",), "jump", "jump", "then the letter of a panel: go there", _jump),
    Command(
        ("f1", "question_mark"),
        "help",
        "help",
        "what the panel in focus shows",
        show_help,
        1,
        "F1",
    ),
    Command(("q", "ctrl+q", "ctrl+c"), "leave", "leave", "leave the bench", leave, 1),
    Command(("H",), "springs", "", "whether sticks spring back when the mouse lets go", _springs, 0),
    Command(("Z",), "keys_hold", "", "keys move by steps, or run the stick while held", _keys_hold, 0),
    Command(("left_square_bracket",), "stick_before", "", "choose the stick before", _stick(-1), 0),
    Command(("right_square_bracket",), "stick_next", "", "choose the next stick", _stick(1), 0),
    Command(("minus",), "stick_less", "", "move the chosen stick down by 10 %", _chosen(-NUDGE), 0),
    Command(("equals_sign",), "stick_more", "", "move the chosen stick up by 10 %", _chosen(NUDGE), 0),
    Command(("full_stop",), "tick", "tick", "one tick on", _one_tick),
    Command(("comma",), "tick_back", "", "one tick back in a log", _one_tick_back, 0),
    Command(("n",), "event_next", "", "jump to the next event of the log", _event(forward=True), 0),
    Command(("N",), "event_before", "", "jump to the event before", _event(forward=False), 0),
    Command(("less_than_sign",), "slower", "", "replay slower", _speed(-1), 0),
    Command(("greater_than_sign",), "faster", "", "replay faster", _speed(1), 0),
    Command(("u",), "undo", "undo", "take the last edit back", _undo),
    Command(("U",), "redo", "redo", "make it again", _redo),
    Command(("x",), "swap", "A/B", "change over to the other tuning", _swap),
    Command(("X",), "copy", "", "make the other tuning equal to this one", _copy, 0),
    Command(("ctrl+s",), "save", "save", "write the tuning to the profile; the old file is kept", save),
    Command(("F",), "save_as", "", "save the tuning under another name", save_as, 0),
    Command(("r",), "reload", "", "read the profile's file again, under unsaved edits", reload, 0),
    Command(("R",), "record", "record", "record what reaches the board, or end it", _record),
    Command(("O",), "open", "open log", "open a log to replay", _open_log),
    Command(("M",), "hands", "", "hands, log, link or controller: who has the sticks", _sources, 0),
    Command(("P",), "power", "power", "switch the board off and on", lambda s: s.bench.session.power_up()),
    Command(("G",), "rehearse", "", "the guided receiver test, over the link", begin_rehearsal, 0),
    Command(("o",), "loadout", "", "the next loadout of the profile", _loadout, 0),
    Command(("E",), "diary", "", "save the diary to a file", _save_diary, 0),
    Command(("T",), "theme", "light/dark", "light or dark", lambda s: s.app.change_theme(), 2),
    *_pad_commands(),
    *(
        Command((str(number + 1),), f"switch_{number + 1}", "", "move that switch on", _switch(number), 0)
        for number in range(1, 9)
    ),
)
"""The first command that has a key wins; those of the focused panel come before all."""
