"""Light: the look, lamp by lamp, as lines on a look sheet."""
