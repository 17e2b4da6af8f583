"""Pure drawing: numbers in, rows of styled text out. No widget, no app, no clock.

A row is a tuple of runs, a run is (text, style name). Names are resolved to colours by `tui.styles`:
``ink``, ``ink/ground`` or either with a trailing ``!`` for bold.
"""
