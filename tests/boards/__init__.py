"""Boards without hardware: an AVR simulator and an ARM emulator that run what the tests compile."""
