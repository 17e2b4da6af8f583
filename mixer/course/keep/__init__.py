"""Runs kept as ordinary logs, and measured anew from them."""
