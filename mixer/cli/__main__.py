"""`python -m mixer.cli` is `stickwright`."""

from mixer.cli.main import entry

entry()
