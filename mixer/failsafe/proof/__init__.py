"""The rules shown for all inputs and all states, or a run that breaks one."""
