"""Tests of the bound on time and stack: its decoders, its times, its ranges, what it refuses."""
