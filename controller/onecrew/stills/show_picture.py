"""Pictures to look at: linear light as a small sRGB JPEG, with the marked regions drawn where they are
asked for."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence

import numpy as np

from onecrew.colour.arrays import FloatArray
from onecrew.stills.regions import Box
from onecrew.stills.transfer import CURVES

QUALITY = 88
_YELLOW = (255, 210, 60)


def jpeg(
    linear: FloatArray, boxes: Sequence[tuple[str, Box]] = (), factor: int = 1, width: int = 960
) -> bytes:
    """Return a JPEG of linear light (h, w, 3), at most ``width`` wide; ``boxes`` are in the file's pixels."""
    from PIL import Image, ImageDraw

    codes = np.clip(CURVES["srgb"].encode(np.clip(linear, 0.0, 1.0)), 0.0, 1.0)
    image = Image.fromarray(np.rint(codes * 255.0).astype(np.uint8), "RGB")
    scale = min(1.0, width / image.width)
    if scale < 1.0:
        image = image.resize((width, max(1, round(image.height * scale))))
    draw = ImageDraw.Draw(image)
    for name, (x, y, w, h) in boxes:
        unit = (image.width, image.height) if max(x, y, w, h) <= 1.0 else (scale / factor, scale / factor)
        left, top, right, bottom = x * unit[0], y * unit[1], (x + w) * unit[0], (y + h) * unit[1]
        draw.rectangle((left, top, right, bottom), outline=_YELLOW)
        draw.text((left + 2, top + 1), name.encode("ascii", "replace").decode()[:24], fill=_YELLOW)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def data_url(data: bytes) -> str:
    """Return a JPEG as a URL that holds it."""
    return "data:image/jpeg;base64," + base64.b64encode(data).decode("ascii")
