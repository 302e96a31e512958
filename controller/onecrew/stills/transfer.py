"""Transfer curves: the code values of a picture (0–1) ⇄ linear light, by the name of the curve.

Linear light is relative: a diffuse white of the scene is near 1, and whatever scale a curve has falls out
of a match. Sources: IEC 61966-2-1 (sRGB), ITU-R BT.709, BT.1886, BT.2100 (HLG), SMPTE ST 2084 (PQ), Academy
S-2016-001 (ACEScct), and the cameras' published white papers for their log curves, whose constants are
checked against colour-science. Any other curve that colour-science knows by name is used from there if it
is installed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from onecrew.colour.arrays import FloatArray
from onecrew.errors import Mistake


@dataclass(frozen=True, slots=True)
class Curve:
    """One transfer curve. Both ways take and return arrays of any shape; values outside 0–1 are continued."""

    name: str
    decode: Callable[[ArrayLike], FloatArray]
    """Code values → linear light."""
    encode: Callable[[ArrayLike], FloatArray]
    """Linear light → code values."""
    is_log: bool = False


def curve_called(name: str) -> Curve:
    """Return the curve of this name, however it is spelled; raises ``Mistake`` with the names there are.

    >>> round(float(curve_called("sRGB").decode(0.5)), 5)
    0.21404
    """
    key = _key(name)
    found = CURVES.get(ALIASES.get(key, key)) or _from_library(name)
    if found is None:
        names = ", ".join(curve.name for curve in CURVES.values())
        raise Mistake(f"there is no curve '{name}'; the curves are {names}, and ladder for one of your own")
    return found


def from_points(name: str, codes: ArrayLike, light: ArrayLike) -> Curve:
    """Return a curve through points that rise in code value and in light, straight between them."""
    codes, light = np.asarray(codes, dtype=np.float64), np.asarray(light, dtype=np.float64)
    return Curve(
        name,
        lambda v: np.asarray(np.interp(_array(v), codes, light), dtype=np.float64),
        lambda x: np.asarray(np.interp(_array(x), light, codes), dtype=np.float64),
    )


def _key(name: str) -> str:
    return "".join(letter for letter in name.lower() if letter.isalnum())


# ── Display and broadcast ───────────────────────────────────────────────────────────────────────────


def _array(values: ArrayLike) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _power(name: str, gamma: float) -> Curve:
    return Curve(
        name,
        lambda v: np.maximum(_array(v), 0.0) ** gamma,
        lambda x: np.maximum(_array(x), 0.0) ** (1.0 / gamma),
    )


def _power_with_toe(name: str, slope: float, offset: float, power: float, cut: float) -> Curve:
    """code = slope·x up to ``cut``, then (1 + offset)·x^power − offset."""

    def decode(codes: ArrayLike) -> FloatArray:
        v = _array(codes)
        high = (np.maximum(v, slope * cut) + offset) / (1.0 + offset)
        return np.where(v <= slope * cut, v / slope, high ** (1.0 / power))

    def encode(light: ArrayLike) -> FloatArray:
        x = _array(light)
        return np.where(x <= cut, slope * x, (1.0 + offset) * np.maximum(x, cut) ** power - offset)

    return Curve(name, decode, encode)


def _hlg() -> Curve:
    a = 0.17883277
    b, c = 1.0 - 4.0 * a, 0.5 - a * math.log(4.0 * a)

    def decode(codes: ArrayLike) -> FloatArray:
        v = _array(codes)
        high = (np.exp((v - c) / a) + b) / 12.0
        return np.where(v <= 0.5, np.sign(v) * v * v / 3.0, high)

    def encode(light: ArrayLike) -> FloatArray:
        x = np.maximum(_array(light), 0.0)
        return np.where(x <= 1.0 / 12.0, np.sqrt(3.0 * x), a * np.log(np.maximum(12.0 * x - b, 1e-9)) + c)

    return Curve("HLG", decode, encode)


def _pq() -> Curve:
    m1, m2 = 2610.0 / 16384.0, 2523.0 / 32.0
    c1, c2, c3 = 3424.0 / 4096.0, 2413.0 / 128.0, 2392.0 / 128.0

    def decode(codes: ArrayLike) -> FloatArray:
        """100 cd/m² are 1."""
        v = np.maximum(_array(codes), 0.0) ** (1.0 / m2)
        return 100.0 * (np.maximum(v - c1, 0.0) / (c2 - c3 * v)) ** (1.0 / m1)

    def encode(light: ArrayLike) -> FloatArray:
        y = (np.maximum(_array(light), 0.0) / 100.0) ** m1
        return ((c1 + c2 * y) / (1.0 + c3 * y)) ** m2

    return Curve("PQ", decode, encode)


# ── Log ─────────────────────────────────────────────────────────────────────────────────────────────


def _log(
    name: str, a: float, b: float, c: float, d: float, e: float | None, f: float | None, cut: float
) -> Curve:
    """code = c·log10(a·x + b) + d above ``cut``, e·x + f below; without e and f the tangent at ``cut``."""
    if e is None or f is None:
        e = c * a / ((a * cut + b) * math.log(10.0))
        f = c * math.log10(a * cut + b) + d - e * cut
    slope, base, seam = e, f, e * cut + f

    def decode(codes: ArrayLike) -> FloatArray:
        v = _array(codes)
        return np.where(v > seam, (10.0 ** ((v - d) / c) - b) / a, (v - base) / slope)

    def encode(light: ArrayLike) -> FloatArray:
        x = _array(light)
        return np.where(x > cut, c * np.log10(np.maximum(a * x + b, 1e-12)) + d, slope * x + base)

    return Curve(name, decode, encode, is_log=True)


def _s_log(name: str, gain: float) -> Curve:
    """The two older curves, whose legal range starts at code 64 of 1023; ``gain`` scales the light before."""
    span, start = 876.0 / 1023.0, 64.0 / 1023.0
    c, offset = 0.432699, 0.616596 + 0.03
    return _log(
        name,
        gain / 0.9,
        0.037584,
        c * span,
        offset * span + start,
        5.0 * gain / 0.9 * span,
        0.030001222851889303 * span + start,
        0.0,
    )


def _log_c4() -> Curve:
    a, b, c = (2.0**18 - 16.0) / 117.45, (1023.0 - 95.0) / 1023.0, 95.0 / 1023.0
    s = 7.0 * math.log(2.0) * 2.0 ** (7.0 - 14.0 * c / b) / (a * b)
    t = (2.0 ** (14.0 * (-c / b) + 6.0) - 64.0) / a
    return _log("LogC4", a, 64.0, b / 14.0 / math.log10(2.0), c - 6.0 / 14.0 * b, 1.0 / s, -t / s, t)


def _n_log() -> Curve:
    a, b, c, d = 650.0 / 1023.0, 0.0075, 150.0 / 1023.0, 619.0 / 1023.0

    def decode(codes: ArrayLike) -> FloatArray:
        v = _array(codes)
        return np.where(v < 452.0 / 1023.0, (v / a) ** 3 - b, np.exp((v - d) / c))

    def encode(light: ArrayLike) -> FloatArray:
        x = _array(light)
        return np.where(x < 0.328, a * np.cbrt(x + b), c * np.log(np.maximum(x, 1e-9)) + d)

    return Curve("N-Log", decode, encode, is_log=True)


def _apple_log() -> Curve:
    r0, rt, sigma = -0.05641088, 0.01, 47.28711236
    beta, gamma, delta = 0.00964052, 0.08550479, 0.69336945
    seam = sigma * (rt - r0) ** 2

    def decode(codes: ArrayLike) -> FloatArray:
        v = _array(codes)
        return np.where(
            v < seam, np.sqrt(np.maximum(v, 0.0) / sigma) + r0, 2.0 ** ((v - delta) / gamma) - beta
        )

    def encode(light: ArrayLike) -> FloatArray:
        x = _array(light)
        low = sigma * np.maximum(x - r0, 0.0) ** 2
        return np.where(x < rt, low, gamma * np.log2(np.maximum(x + beta, 1e-9)) + delta)

    return Curve("Apple Log", decode, encode, is_log=True)


_ALL = (
    Curve("linear", _array, _array),
    _power_with_toe("sRGB", 12.92, 0.055, 1.0 / 2.4, 0.0031308),
    _power_with_toe("BT.709", 4.5, 0.099, 0.45, 0.018),
    _power("BT.1886", 2.4),
    _power("gamma 2.2", 2.2),
    _power("gamma 2.6", 2.6),
    _hlg(),
    _pq(),
    _log(
        "ACEScct",
        1.0,
        0.0,
        1.0 / (17.52 * math.log10(2.0)),
        9.72 / 17.52,
        10.5402377416545,
        0.0729055341958355,
        0.0078125,
    ),
    _log("LogC3", 5.555556, 0.052272, 0.247190, 0.385537, 5.367655, 0.092809, 0.010591),
    _log_c4(),
    _s_log("S-Log", 1.0),
    _s_log("S-Log2", 155.0 / 219.0),
    _log(
        "S-Log3",
        1.0 / 0.19,
        0.01 / 0.19,
        261.5 / 1023.0,
        420.0 / 1023.0,
        (171.2102946929 - 95.0) / 0.01125 / 1023.0,
        95.0 / 1023.0,
        0.01125,
    ),
    _log("V-Log", 1.0, 0.00873, 0.241514, 0.598206, 5.6, 0.125, 0.01),
    _log("Canon Log", 10.1596 / 0.9, 1.0, 0.45310179, 0.12512248, None, None, 0.0),
    _log("Canon Log 2", 87.09937546 / 0.9, 1.0, 0.24136077, 0.092864125, None, None, 0.0),
    _log(
        "Canon Log 3", 14.98325 / 0.9, 1.0, 0.36726845, 0.12240537, 1.9754798 / 0.9, 0.12512219, 0.014 * 0.9
    ),
    _log("F-Log", 0.555556, 0.009468, 0.344676, 0.790453, 8.735631, 0.092864, 0.00089),
    _log("F-Log2", 5.555556, 0.064829, 0.245281, 0.384316, 8.799461, 0.092864, 0.000889),
    _n_log(),
    _log("D-Log", 0.9892, 0.0108, 0.256663, 0.584555, 6.025, 0.0929, 0.0078),
    _log("L-Log", 1.3, 0.0115, 0.27, 0.6, 8.0, 0.09, 0.006),
    _log("Log3G10", 155.975327, 2.55975327, 0.224282, 0.0, 15.1927, 0.151927, -0.01),
    _apple_log(),
)
CURVES = {_key(curve.name): curve for curve in _ALL}
"""By the letters and digits of the name."""
ALIASES = {
    "raw": "linear",
    "scenelinear": "linear",
    "linearlight": "linear",
    "iec6196621": "srgb",
    "rec709": "bt709",
    "itur709": "bt709",
    "iturbt709": "bt709",
    "bt2020": "bt709",
    "rec2020": "bt709",
    "iturbt1886": "bt1886",
    "rec1886": "bt1886",
    "gamma24": "bt1886",
    "bt2100hlg": "hlg",
    "iturbt2100hlg": "hlg",
    "arribstdb67": "hlg",
    "aribstdb67": "hlg",
    "bt2100pq": "pq",
    "iturbt2100pq": "pq",
    "st2084": "pq",
    "smptest2084": "pq",
    "logc": "logc3",
    "alexalogc": "logc3",
    "arrilogc": "logc3",
    "arrilogc3": "logc3",
    "arrilogc3ei800": "logc3",
    "logc3ei800": "logc3",
    "arrilogc4": "logc4",
    "clog": "canonlog",
    "clog2": "canonlog2",
    "clog3": "canonlog3",
    "applelogprofile": "applelog",
}


def _from_library(name: str) -> Curve | None:
    """A log curve that colour-science carries, if it is installed."""
    try:
        import colour
    except ImportError:
        return None
    for known in colour.LOG_DECODINGS:
        if _key(known) == _key(name):
            return Curve(
                str(known),
                partial(_by_library, colour.log_decoding, str(known)),
                partial(_by_library, colour.log_encoding, str(known)),
                is_log=True,
            )
    return None


def _by_library(way: Callable[..., ArrayLike], method: str, values: ArrayLike) -> FloatArray:
    return _array(way(_array(values), function=method))
