"""The `stickwright` command: one file a subcommand, `console.py` for everything that is printed.

Each command module offers `add_arguments(parser)` and `run(args, console)`; heavy imports happen in
`run`, so that `--help` and shell completion stay quick.
"""
