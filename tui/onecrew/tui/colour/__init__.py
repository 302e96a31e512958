"""Colour: the lamps on the chromaticity diagram."""
