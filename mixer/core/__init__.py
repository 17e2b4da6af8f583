"""The firmware: pure integer functions of (plan, inputs, state).

Nothing here reads a clock, a file or a float, and nothing branches on data: the same functions are
called with Python ints (the reference firmware) and with symbols (see `mixer.lower`).
Start reading at `tick.py`.
"""
