"""Beginning and ending a demonstration on the screen."""

from tui.bench.host import Host


def begin_demonstration(screen: Host) -> None:
    """Ten seconds in which the robot drives itself; every key and click ends them."""
    if screen.bench.rehearsing is not None:
        screen.bench.say("the receiver test is running: esc in its panel ends it first")
        return
    if screen.bench.desk is not None and screen.bench.desk.running:
        screen.bench.say("a run of the course is on: esc there gives it up first")
        return
    screen.bench.demonstrate()
    screen.paint_all()


def end_demonstration(screen: Host) -> bool:
    """Back to what was there before; whether there was one to end."""
    bench = screen.bench
    if bench.demonstration is None:
        return False
    bench.back_to_work()
    bench.say("the demonstration is over: everything is as it was before")
    screen.open_drawer(bench.looking.drawer)
    screen.paint_all()
    return True
