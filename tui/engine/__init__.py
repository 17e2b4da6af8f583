"""The bench without a screen: a session that runs a robot, and frozen snapshots of it, newest wins.

    clock ──advance──► Session ──► inputs (hand sticks, log, link) ──► faults ──► firmware ──► plant
                          │                                             │            └──► monitor
                          └── tuning (profile text -> plan, swapped between two ticks)
    every advance gives one Snapshot; a screen reads it and calls methods, and never touches the rest.

Nothing here knows a widget, reads a clock or sleeps: time is handed in.
"""
