"""The `stickwright` command: one file a subcommand, `console.py` for everything that is printed.

Each command module offers `add_arguments(parser)` and `run(args, console)`; it is imported when its command
is spoken of, so that no command waits for the others' libraries.
"""
