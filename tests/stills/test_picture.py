"""Reading pictures: every bit that a file has, upright, and a sentence for what is no picture."""

from __future__ import annotations

import struct
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import png
import pytest
import tifffile
from PIL import Image

from onecrew.errors import Mistake, Trouble
from onecrew.stills.picture import picture_size, read_picture

RNG = np.random.default_rng(3)
BYTES = RNG.integers(0, 256, (80, 100, 3), dtype=np.uint8)
WORDS = RNG.integers(0, 65536, (80, 100, 3), dtype=np.uint16)


def write_png16(path: Path, words: np.ndarray) -> Path:
    with path.open("wb") as file:
        png.Writer(words.shape[1], words.shape[0], greyscale=False, bitdepth=16).write(
            file, words.reshape(len(words), -1).tolist()
        )
    return path


def test_eight_bits(tmp_path: Path) -> None:
    Image.fromarray(BYTES).save(tmp_path / "a.png")
    read = read_picture(tmp_path / "a.png")
    assert read.codes.dtype == np.uint8
    assert read.size == (100, 80)
    np.testing.assert_array_equal(read.codes, BYTES)


def test_a_png_of_sixteen_bits_keeps_them_all(tmp_path: Path) -> None:
    """Pillow 13 makes 8 bits of it without a word; that it still does is why pypng is there."""
    path = write_png16(tmp_path / "a.png", WORDS)
    read = read_picture(path)
    assert read.codes.dtype == np.uint16
    np.testing.assert_array_equal(read.codes, WORDS)
    assert np.asarray(Image.open(path)).dtype == np.uint8


@pytest.mark.parametrize("planar", ["contig", "separate"])
def test_a_tiff_of_sixteen_bits(tmp_path: Path, planar: str) -> None:
    path = tmp_path / "a.tif"
    pixels = WORDS if planar == "contig" else np.moveaxis(WORDS, -1, 0)
    tifffile.imwrite(path, pixels, photometric="rgb", planarconfig=planar)
    np.testing.assert_array_equal(read_picture(path).codes, WORDS)


def test_a_float_tiff(tmp_path: Path) -> None:
    light = RNG.random((80, 100, 3)).astype(np.float32)
    tifffile.imwrite(tmp_path / "a.tif", light, photometric="rgb")
    np.testing.assert_array_equal(read_picture(tmp_path / "a.tif").codes, light)


def test_a_tiff_with_values_that_are_no_numbers_is_refused(tmp_path: Path) -> None:
    light = np.full((80, 100, 3), np.nan, dtype=np.float32)
    tifffile.imwrite(tmp_path / "a.tif", light, photometric="rgb")
    with pytest.raises(Mistake, match="not numbers"):
        read_picture(tmp_path / "a.tif")


def test_a_raw_file_is_linear(tmp_path: Path) -> None:
    """A DNG of our own making (Adobe DNG specification 1.4): a grey ramp behind a Bayer mosaic."""
    ramp = np.linspace(1000.0, 60000.0, 256)
    mosaic = np.repeat(ramp[None, :], 128, axis=0).astype(np.uint16)
    tags = [
        (33421, 3, 2, (2, 2), False),  # CFARepeatPatternDim
        (33422, 1, 4, (0, 1, 1, 2), False),  # CFAPattern, red first
        (50706, 1, 4, (1, 4, 0, 0), False),  # DNGVersion
        (50708, 2, 0, "Invented", False),  # UniqueCameraModel
        (50717, 4, 1, 65535, False),  # WhiteLevel
        (50721, 10, 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1), False),  # ColorMatrix1
        (50728, 5, 3, (1, 1, 1, 1, 1, 1), False),  # AsShotNeutral
        (50778, 3, 1, 21, False),  # CalibrationIlluminant1, D65
    ]
    path = tmp_path / "a.dng"
    tifffile.imwrite(path, mosaic, photometric=32803, extratags=tags, metadata=None)
    read = read_picture(path)
    assert read.linear and read.codes.dtype == np.uint16
    row = read.codes[60, 20:236].astype(float).mean(axis=1)
    assert np.corrcoef(row, ramp[20:236])[0, 1] > 0.9999
    assert row[-1] / row[0] == pytest.approx(ramp[235] / ramp[20], rel=0.03)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_picture_is_laid_upright(tmp_path: Path, orientation: int) -> None:
    """Against pillow's own exif_transpose, for JPEG; Exif 2.32, Orientation 1–8."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.fromarray(BYTES).save(tmp_path / "a.png", exif=exif)
    tifffile.imwrite(
        tmp_path / "a.tif",
        BYTES,
        photometric="rgb",
        extratags=[(274, 3, 1, orientation, True)],
        metadata=None,
    )
    expected = read_picture(tmp_path / "a.png").codes
    assert expected.shape == ((80, 100, 3) if orientation < 5 else (100, 80, 3))
    np.testing.assert_array_equal(read_picture(tmp_path / "a.tif").codes, expected)


def with_exif(path: Path, **tags: object) -> Path:
    exif = Image.Exif()
    exif.get_ifd(0x8769).update(
        {
            {"shutter": 0x829A, "aperture": 0x829D, "iso": 0x8827, "mode": 0xA402}[k]: v
            for k, v in tags.items()
        }
    )
    Image.fromarray(BYTES).save(path, exif=exif)
    return path


def test_exposure_from_the_metadata(tmp_path: Path) -> None:
    read = read_picture(with_exif(tmp_path / "a.jpg", shutter=0.02, aperture=2.8, iso=800, mode=0))
    assert read.metadata.exposure_stops == pytest.approx(np.log2(0.02 * 8.0 / 2.8**2), abs=1e-3)
    assert read.metadata.auto_exposure


def test_metadata_that_lie_are_as_if_they_were_not_there(tmp_path: Path) -> None:
    read = read_picture(with_exif(tmp_path / "a.jpg", shutter=0.0, aperture=2.8, iso=65535))
    assert read.metadata.exposure_stops is None
    assert read.metadata.iso is None


def test_metadata_that_are_rubbish_do_not_spoil_the_picture(tmp_path: Path) -> None:
    data = with_exif(tmp_path / "a.jpg", shutter=0.02).read_bytes()
    at = data.index(b"Exif\0\0") + 6
    (tmp_path / "b.jpg").write_bytes(data[:at] + b"\xff" * 20 + data[at + 20 :])
    assert read_picture(tmp_path / "b.jpg").size == (100, 80)


def test_a_progressive_jpeg_is_read(tmp_path: Path) -> None:
    Image.fromarray(BYTES).save(tmp_path / "a.jpg", progressive=True, quality=95)
    Image.fromarray(BYTES).save(tmp_path / "b.jpg", quality=95)
    one, other = (read_picture(tmp_path / name).codes.astype(int) for name in ("a.jpg", "b.jpg"))
    assert np.abs(one - other).max() <= 2


def huge_png(path: Path) -> Path:
    """A header of 25 000 × 20 000 pixels with next to nothing behind it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 25000, 20000, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + parts)
    return path


@pytest.mark.parametrize(
    ("name", "make", "says"),
    [
        ("a.jpg", lambda p: p.write_text("no picture"), "is not a picture that can be read here"),
        ("a.jpg", lambda p: Image.new("CMYK", (80, 80)).save(p), "in CMYK"),
        ("a.png", lambda p: Image.new("L", (80, 80)).save(p), "has no colour"),
        ("a.tif", lambda p: tifffile.imwrite(p, WORDS[..., 0]), "has no colour"),
        ("a.png", lambda p: Image.new("RGB", (20, 80)).save(p), "20 × 80 pixels"),
        ("a.png", huge_png, "500 million pixels|too many pixels"),
        ("a.jpg", lambda p: p.write_bytes(b"\xff\xd8\xff\xe0rest"), "cannot be read as a picture"),
        ("a.dng", lambda p: p.write_bytes(b"II*\0" + b"x" * 99), "cannot be read"),
        ("a.tif", lambda p: tifffile.imwrite(p, WORDS.astype(np.int32), photometric="rgb"), "unusual kind"),
    ],
    ids=["text", "CMYK", "grey", "grey TIFF", "small", "500 MP", "broken JPEG", "broken raw", "int32"],
)
def test_what_is_no_still_is_one_sentence(tmp_path: Path, name: str, make: object, says: str) -> None:
    make(tmp_path / name)  # type: ignore[operator]
    with pytest.raises(Mistake, match=says) as refused:
        read_picture(tmp_path / name)
    assert "\n" not in str(refused.value)
    assert str(refused.value).isprintable()


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="cannot be read"):
        read_picture(tmp_path / "none.jpg")


def test_a_missing_extra_is_one_sentence() -> None:
    code = (
        "import sys; sys.modules['rawpy'] = None; from onecrew.cli import main; "
        "sys.exit(main(['match', 'show.json', '--stills', '.', '--reference', 'a.jpg']))"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert ended.returncode == 1
    assert "pictures need the extra 'match', and rawpy is not installed" in ended.stderr
    assert ended.stderr.count("\n") == 1


@pytest.mark.parametrize("ending", ["jpg", "png"])
@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_the_head_says_the_size_that_the_picture_has(tmp_path: Path, ending: str, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / f"a.{ending}"
    Image.new("RGB", (120, 80), (90, 60, 30)).save(path, exif=exif)
    assert picture_size(path) == read_picture(path).size


def test_no_size_is_told_of_what_has_none(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("no picture")
    Image.new("RGB", (120, 80)).save(tmp_path / "a.tif")
    assert [picture_size(path) for path in sorted(tmp_path.iterdir())] == [None, None]
    assert picture_size(tmp_path / "gone.jpg") is None
