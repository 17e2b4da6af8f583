"""What a person is told who opens the bench without a robot of their own: only what is on this screen."""

from tui.bench.demonstration import begin_demonstration
from tui.bench.host import Host
from tui.bench.layout import arrange, pages_of, size_of
from tui.dialogs.windows import Ask

CHOICES = (("watch", "watch it for ten seconds"), ("drive", "let me drive"))


def welcome(screen: Host) -> None:
    """Say what to try first; watching is one key away."""

    def answered(answer: str | None) -> None:
        if answer == "watch":
            begin_demonstration(screen)

    screen.app.push_screen(Ask("welcome to the bench", welcome_words(screen), CHOICES), answered)


def welcome_words(screen: Host) -> str:
    """For this robot and this size of the terminal."""
    bench, size = screen.bench, screen.app.size
    switches = bench.snapshot.switches
    arm = next((number for number, switch in enumerate(switches, start=1) if switch.arms), None)
    arming = "rest the sticks" if arm is None else f"press {arm} for the arm switch"
    seen = "hands" in arrange(*size, 0, "", replaying=False)
    drag = "drag in the left pad, or press w" if seen else "press w a few times, c to stop"
    pages = pages_of(size_of(*size)) > 1
    return (
        f"An example robot, {bench.snapshot.robot}, since no profile was named.\n"
        "To watch: it drives by itself, its radio breaks, it stops, and the gate says why. Any key ends "
        "that; p shows it again.\n"
        f"To drive: {arming}, wait for the gate to open, then {drag}"
        f"{'; v leafs to floor and hands' if pages else ''}.\n"
        "Then: t tunes while it drives, b breaks things, e explains a motor, F1 explains what you see.\n"
        f"What you change stays in your copy, {bench.where}; your own robot: stickwright new my_robot.toml"
    )
