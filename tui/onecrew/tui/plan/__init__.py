"""Plan: the room from above."""
