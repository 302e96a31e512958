"""Tolerance: how far apart two chromaticities are when they are seen to differ side by side.

MacAdam, J. Opt. Soc. Am. 32, 247 (1942), doi 10.1364/JOSA.32.000247, measured the spread of colour matches;
ANSI C78.377 and CIE TN 001:2014 (chromaticity difference specification for light sources) replace his
ellipses near white by circles in u′v′, whose radius is 0.0011 for each step (the figure from memory).
"""

from __future__ import annotations

STEP_UV = 0.0011
"""Radius of a one-step circle, Δu′v′: about one standard deviation of an observer's matches."""
SEEN_STEPS = 3
"""Steps at which two lamps on one wall are seen to differ. One step is the spread of one observer's own
matches; three is the closest tolerance that white lamps are sorted by (common practice, no source)."""
SEEN_SIDE_BY_SIDE = round(SEEN_STEPS * STEP_UV, 4)
"""Δu′v′ from which a difference counts as seen; every surface that says so takes this figure."""
