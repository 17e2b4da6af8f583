"""The one-page data sheet of a robot, to print and to hand to the people at the event.

The page is laid out in millimetres by our own arithmetic, so that it is known to fit before it is written.
"""
