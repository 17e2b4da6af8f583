"""The course beside a running bench: runs begun, followed and kept, and the blind comparison under way."""
