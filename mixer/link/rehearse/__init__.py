"""The guided receiver test: what this receiver really does, and what the firmware makes of it.

A pure state machine. `Rehearsal(plan)` shows a `Prompt`; hand it all that the link says and the person's
answers, and it moves from step to step, leaving a `StepVerdict` behind each. The measured pulses run
through the core itself, tick by tick, so "how long until every output is neutral" is what the firmware
would do.
Time is the board's. Nothing here prints, waits or opens anything.
"""
