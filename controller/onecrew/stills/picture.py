"""Pictures: a file → code values and metadata, bounded in size, never fewer bits than the file has.

JPEG and 8-bit PNG by pillow; 16-bit PNG by pypng, since pillow makes 8 bits of it without a word; TIFF by
tifffile; DNG and other raw by rawpy, as linear light. All behind the extra ``match``.
"""

from __future__ import annotations

import contextlib
import io
import warnings
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from onecrew.errors import Mistake, Trouble
from onecrew.plain_files import plain_status
from onecrew.stills import need_libraries

if TYPE_CHECKING:
    from PIL import Image

need_libraries()

MOST_PIXELS = 100_000_000
MOST_BYTES = 1 << 30
FEWEST_PIXELS = 64
"""Of a side: less is no picture of a room."""
_RAW = frozenset(
    f".{ending}"
    for ending in (
        *("dng", "raw", "arw", "cr2", "cr3", "nef", "nrw", "orf", "raf", "rw2"),
        *("pef", "srw", "3fr", "iiq", "rwl", "erf", "kdc", "mrw", "x3f"),
    )
)
_TAGS = {0x829A: "shutter_s", 0x829D: "aperture", 0x8827: "iso"}
"""Exif 2.32 (CIPA DC-008): ExposureTime, FNumber, PhotographicSensitivity."""
_ORIENTATION, _TURNED = 0x0112, (5, 6, 7, 8)
"""Exif's Orientation, and which of them lie on a side."""
_TIME, _WHITE_BALANCE, _MODE, _EXIF = 0x9003, 0xA403, 0xA402, 0x8769

Codes = NDArray[Any]
"""Of 8-bit or 16-bit unsigned integers, or of float32."""


@dataclass(frozen=True, slots=True)
class Metadata:
    """What a file says about itself; None where it says nothing that can be read."""

    shutter_s: float | None = None
    aperture: float | None = None
    iso: float | None = None
    taken: str | None = None
    """As in the file, 'YYYY:MM:DD HH:MM:SS'."""
    auto_exposure: bool = False
    auto_white_balance: bool = False

    @property
    def exposure_stops(self) -> float | None:
        """Stops of exposure against 1 s, f/1, ISO 100; None where one of the three is missing."""
        if self.shutter_s is None or self.aperture is None or self.iso is None:
            return None
        return float(np.log2(self.shutter_s * self.iso / 100.0 / self.aperture**2))


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture as it is in its file, upright."""

    path: Path
    codes: Codes
    """(height, width, 3), as many bits as the file has; floating point where the file has it."""
    linear: bool = False
    """Raw: linear light already."""
    metadata: Metadata = field(default_factory=Metadata)

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in pixels."""
        return self.codes.shape[1], self.codes.shape[0]


def read_picture(path: Path) -> Picture:
    """Read a picture file.

    Raises ``Trouble`` for a file that cannot be read, ``Mistake`` for one
    that is no picture of a room: another kind, CMYK, one channel, too big or too small, broken.
    """
    data = _bytes(path)
    try:
        picture = _reader(path, data)(path, data)
    except (Mistake, Trouble):
        raise
    except Exception as error:  # noqa: BLE001 — a hostile file can raise anything in four libraries
        raise Mistake(f"{path.name} cannot be read as a picture ({_first_line(error)})") from None
    width, height = picture.size
    if min(width, height) < FEWEST_PIXELS:
        raise Mistake(f"{path.name} has {width} × {height} pixels; a still needs {FEWEST_PIXELS} each way")
    if picture.codes.dtype == np.float32 and not np.isfinite(picture.codes).all():
        raise Mistake(f"{path.name} has values that are not numbers; export it again")
    return picture


def picture_size(path: Path) -> tuple[int, int] | None:
    """Return (width, height) of a JPEG or PNG as it is shown, without reading its pixels; else None."""
    with contextlib.suppress(Mistake, Trouble, OSError, ValueError), _opened(path, _bytes(path)) as image:
        # Of a PNG that has no such block before its pixels, pillow reads all of them to look for one behind.
        exif = {} if image.format == "PNG" and "exif" not in image.info else image.getexif()
        if image.format in ("JPEG", "PNG"):
            width, height = image.size
            return (height, width) if exif.get(_ORIENTATION) in _TURNED else (width, height)
    return None


def taken_at(path: Path) -> str | None:
    """Return when a picture says it was taken, 'YYYY:MM:DD HH:MM:SS', without reading its pixels; or None."""
    with contextlib.suppress(Mistake, Trouble, OSError, ValueError), _opened(path, _bytes(path)) as image:
        return _metadata(image.getexif()).taken
    return None


def _bytes(path: Path) -> bytes:
    try:
        if plain_status(path).st_size > MOST_BYTES:
            raise Mistake(f"{path.name} is larger than a gigabyte; export a smaller picture")
        return path.read_bytes()
    except OSError as error:
        raise Trouble(f"{path} cannot be read ({error.strerror})") from error


def _reader(path: Path, data: bytes) -> Callable[[Path, bytes], Picture]:
    """By the first bytes; the name's ending decides only between a TIFF and a raw file that looks like
    one."""
    if data[:2] == b"\xff\xd8":
        return _by_pillow
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return _png16 if len(data) > 25 and data[24] == 16 else _by_pillow
    if path.suffix.lower() in _RAW:
        return _raw
    if data[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return _tiff
    raise Mistake(f"{path.name} is not a picture that can be read here; use JPEG, PNG, TIFF, DNG or raw")


def _checked_size(path: Path, width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise Mistake(
            f"{path.name} has {width * height / 1e6:.0f} million pixels; {MOST_PIXELS // 1_000_000} million "
            "are the most that is read: export it smaller"
        )


# ── The four kinds ──────────────────────────────────────────────────────────────────────────────────


@contextlib.contextmanager
def _opened(path: Path, data: bytes) -> Iterator[Image.Image]:
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(data))
    except Image.DecompressionBombError:
        raise Mistake(f"{path.name} has far too many pixels; export it smaller") from None
    with image:
        _checked_size(path, *image.size)
        yield image


def _by_pillow(path: Path, data: bytes) -> Picture:
    from PIL import ImageOps

    with _opened(path, data) as image:
        if image.mode in ("CMYK", "YCCK"):
            raise Mistake(f"{path.name} is in CMYK, made for print; export it as RGB")
        if image.mode in ("1", "L", "LA", "I", "I;16", "F"):
            raise Mistake(f"{path.name} has no colour; export it in colour")
        metadata = _metadata(image.getexif())
        upright = ImageOps.exif_transpose(image)
        codes = np.asarray(upright.convert("RGB"), dtype=np.uint8)
    return Picture(path, codes, metadata=metadata)


def _png16(path: Path, data: bytes) -> Picture:
    import png

    width, height = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    _checked_size(path, width, height)
    width, height, rows, info = png.Reader(bytes=data).read()
    if info["greyscale"]:
        raise Mistake(f"{path.name} has no colour; export it in colour")
    codes = np.empty((height, width, 3), dtype=np.uint16)
    for y, row in zip(range(height), rows, strict=True):
        codes[y] = np.asarray(row, dtype=np.uint16).reshape(width, info["planes"])[:, :3]
    with _opened(path, data) as image:
        metadata = _metadata(image.getexif())
    return Picture(path, codes, metadata=metadata)


def _tiff(path: Path, data: bytes) -> Picture:
    import tifffile

    with tifffile.TiffFile(io.BytesIO(data)) as file:
        page: Any = file.pages[0]
        if "DNGVersion" in page.tags:
            return _raw(path, data)
        _checked_size(path, int(page.imagewidth), int(page.imagelength))
        if page.photometric == 5:
            raise Mistake(f"{path.name} is in CMYK, made for print; export it as RGB")
        if page.samplesperpixel < 3:
            raise Mistake(f"{path.name} has no colour; export it in colour")
        pixels = np.asarray(page.asarray())
        if page.planarconfig == 2:
            pixels = np.moveaxis(pixels, 0, -1)
        orientation = page.tags.get("Orientation")
        turned = int(orientation.value) if orientation is not None else 1
    if pixels.dtype not in (np.uint8, np.uint16, np.float32):
        raise Mistake(f"{path.name} is a TIFF of an unusual kind ({pixels.dtype}); export 8 or 16 bits")
    codes = _upright(pixels[..., :3], turned)
    with contextlib.suppress(Mistake, OSError), _opened(path, data) as image:
        return Picture(path, codes, metadata=_metadata(image.getexif()))
    return Picture(path, codes)


def _raw(path: Path, data: bytes) -> Picture:
    import rawpy

    try:
        with rawpy.imread(io.BytesIO(data)) as raw:
            _checked_size(path, raw.sizes.raw_width, raw.sizes.raw_height)
            pixels = raw.postprocess(
                gamma=(1.0, 1.0),
                no_auto_bright=True,
                output_bps=16,
                use_camera_wb=True,
                half_size=raw.sizes.raw_width > 2000,
            )
    except rawpy.LibRawError as error:
        raise Mistake(f"{path.name} cannot be read as raw ({_first_line(error)})") from None
    codes = np.asarray(pixels, dtype=np.uint16)
    metadata = Metadata()
    with contextlib.suppress(Mistake, OSError), _opened(path, data) as image:
        metadata = _metadata(image.getexif())
    return Picture(path, codes, linear=True, metadata=metadata)


def _upright(codes: Codes, orientation: int) -> Codes:
    """Turn by Exif 2.32 Orientation 1–8; anything else is taken as 1."""
    if orientation in _TURNED:
        codes = codes.transpose(1, 0, 2)
    if orientation in (2, 3, 6, 7):
        codes = codes[:, ::-1]
    if orientation in (3, 4, 7, 8):
        codes = codes[::-1]
    return np.ascontiguousarray(codes)


# ── Metadata ────────────────────────────────────────────────────────────────────────────────────────


def _metadata(exif: Any) -> Metadata:
    """Read what can be read: a tag that lies or cannot be understood is as if it were not there."""
    tags: Mapping[int, Any] = {}
    with contextlib.suppress(Exception):  # a broken block of metadata does not spoil the picture
        tags = {**dict(exif), **dict(exif.get_ifd(_EXIF))}
    numbers = {name: _number(tags.get(tag)) for tag, name in _TAGS.items()}
    taken = tags.get(_TIME)
    return Metadata(
        shutter_s=numbers["shutter_s"],
        aperture=numbers["aperture"],
        iso=None if numbers["iso"] == 65535.0 else numbers["iso"],
        taken=taken if isinstance(taken, str) and taken[:4].isdigit() and len(taken) == 19 else None,
        auto_exposure=tags.get(_MODE) == 0 and _MODE in tags,
        auto_white_balance=tags.get(_WHITE_BALANCE) == 0 and _WHITE_BALANCE in tags,
    )


def _number(value: Any) -> float | None:
    if isinstance(value, tuple | list):
        value = value[0] if value else None
    try:
        number = float(Fraction(value)) if isinstance(value, str) else float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if 1e-7 < number < 1e7 else None


def _first_line(error: BaseException) -> str:
    said = (str(error) or type(error).__name__).splitlines()[0]
    return "".join(letter for letter in said if letter.isprintable())[:120]
