"""How far whites reach. Imports nothing, so that documents can ask as cheaply as the loop."""

CCT_MIN_K = 1000.0
CCT_MAX_K = 25000.0
DUV_LIMIT = 0.05
"""Whites reach |Duv| ≤ 0.05: beyond that a correlated colour temperature means nothing (CIE 15:2004,
clause 9.5)."""
