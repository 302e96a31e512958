"""Shoot: now, next, countdown and take, to be read from the set."""
