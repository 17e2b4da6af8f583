"""Boards that run a mix."""
