"""The campaign's faults as edges at the pins of a compiled image, judged from outside alone.

What goes in and what comes out are levels on wires with their times; nothing the firmware says of itself
is believed. What outputs had to show follows from the edges that were played, by core and watcher.
"""
