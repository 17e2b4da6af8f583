"""`python -m mixer.cli`, and what the installed `stickwright` script calls."""

import signal
import sys
from typing import NoReturn


def entry() -> NoReturn:
    """The command line, to the process's end.

    Ctrl-C while the rest is imported, and after the last word, ends it by the signal itself: there is
    nothing to tidy yet, or any more, and nobody who would catch an exception.
    """
    heard = signal.getsignal(signal.SIGINT) is signal.default_int_handler  # not under nohup
    if heard:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from mixer.cli.main import main  # noqa: PLC0415

    if heard:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    code = main(sys.argv[1:])
    if heard:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    sys.exit(code)


if __name__ == "__main__":
    entry()
