"""The effects on offer."""

from __future__ import annotations

EFFECTS = (
    ("v", "television", "cool light that changes with the programme"),
    ("f", "flame", "warm and restless, as a candle or an oven"),
    ("h", "headlights", "a car passes"),
    ("l", "lightning", "limited to under three flashes a second; warn everyone all the same"),
    ("t", "failing-tube", "an old tube that will not start"),
    ("n", "none", "steady light again"),
)
