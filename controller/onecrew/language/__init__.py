"""How levels, times, colours, lamps and cues are read and said: one grammar for every surface."""
