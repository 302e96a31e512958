"""What a grey card's stills found, in sentences."""

from __future__ import annotations

from collections.abc import Mapping

OPENING = (
    "Lock the camera: exposure, white balance and focus by hand, on a tripod. The grey card is in the middle "
    "of the picture, the room dark. Each lamp goes to full: look away."
)
NOTHING_SURE = "no difference is surer than the stills are noisy, so nothing was stored"


def with_the_check(after: Mapping[str, float]) -> list[str]:
    """What is expected once the stills of the closing check count as well, which is what is stored."""
    return [f"stored with these stills counted too: mean {after['mean']:.4f}, worst {after['worst']:.4f}"]


def summary(like: str, before: Mapping[str, float], after: Mapping[str, float], stops: float) -> list[str]:
    """How far a lamp was from another one on camera, and how far it will be; Δu′v′, each mean and worst."""
    was, will = (f"mean {one['mean']:.4f}, worst {one['worst']:.4f}" for one in (before, after))
    return [
        f"before: {was} off from {like} on camera, in u′v′",
        f"after:  {will}",
        f"light:  {stops:+.2f} stops against {like} at the card, at the same output",
    ]
