"""Stickwright without a screen: the mixing core and everything built on it.

Imports run one way; `tests/test_architecture.py` draws and enforces the order.
"""
