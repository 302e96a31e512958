"""The effects on offer, and an effect read with its rate and depth."""

from __future__ import annotations

from pydantic import ValidationError

from onecrew.show.light import Effect

EFFECTS = (
    ("v", "television", "cool light that changes with the programme"),
    ("f", "flame", "warm and restless, as a candle or an oven"),
    ("h", "headlights", "a car passes"),
    ("l", "lightning", "limited to under three flashes a second; warn everyone all the same"),
    ("t", "failing-tube", "an old tube that will not start"),
    ("n", "none", "steady light again"),
)


def read_effect(text: str) -> Effect:
    """Reads 'flame 1.5 60'; raises ``ValueError`` with what would be right."""
    parts = text.replace("%", "").split()
    kinds = [kind for _, kind, _ in EFFECTS if kind != "none"]
    if not parts or parts[0] not in kinds:
        raise ValueError(f"begin with one of: {', '.join(kinds)}")
    fields: dict[str, object] = {"kind": parts[0]}
    try:
        if len(parts) > 1:
            fields["rate"] = float(parts[1])
        if len(parts) > 2:
            fields["depth"] = float(parts[2]) / 100
        return Effect.model_validate(fields)
    except (ValueError, ValidationError):
        raise ValueError(
            "a rate above 0 up to 4, then a depth from 0 to 100 %, as in: flame 1.5 60"
        ) from None
