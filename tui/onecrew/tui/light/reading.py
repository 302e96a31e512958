"""What was typed for a light: '15', '15 56', '2800', '15 2800 +3', 'x .45 .41', 'h 30 80', '-2s'."""

from __future__ import annotations

from dataclasses import dataclass, replace

from onecrew.show.base import CCT_MAX_K, CCT_MIN_K, DUV_LIMIT

EXAMPLES = "15 56 = 15 %, 5600 K · t +3 = tint · x .45 .41 · h 30 80 = hue · -2s"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A light in part: what is None stays as it is."""

    level: float | None = None
    alike: bool = False
    """Every lamp gets this level, instead of keeping their ratio."""
    stops_by: float | None = None
    cct_k: float | None = None
    duv: float | None = None
    xy: tuple[float, float] | None = None
    hue: tuple[float, float] | None = None
    """Hue in degrees and saturation 0–1."""

    def words(self) -> str:
        """It said back, so that a slip shows before Enter."""
        said: list[str] = []
        if self.level is not None:
            said.append(f"level {self.level * 100:g} %" + (", all alike" if self.alike else ""))
        if self.stops_by is not None:
            said.append(f"{'+' if self.stops_by > 0 else '−'}{abs(self.stops_by):g} stops")
        if self.cct_k is not None:
            said.append(f"{self.cct_k:g} K")
        if self.duv is not None:
            said.append(f"tint {'+' if self.duv > 0 else '−' if self.duv < 0 else ''}{abs(self.duv):g}")
        if self.xy is not None:
            said.append(f"xy {self.xy[0]:g} {self.xy[1]:g}")
        if self.hue is not None:
            said.append(f"hue {self.hue[0]:g}°, saturation {self.hue[1] * 100:g} %")
        return ", ".join(said)


def read_light(text: str) -> Wanted:
    """Reads an entry; raises ``ValueError`` with what would be right."""
    tokens = text.lower().replace("−", "-").replace(", ", " ").replace(",", ".").split()
    if not tokens:
        raise ValueError("type a level, a colour temperature or both, as in: 15 56")
    head = tokens[0][0]
    if head in "xht":
        rest = [token for token in (tokens[0][1:], *tokens[1:]) if token]
        return {"x": _read_xy, "h": _read_hue, "t": _read_tint}[head](rest)
    wanted = Wanted()
    for token in tokens:
        wanted = _add(wanted, token)
    return wanted


def _add(wanted: Wanted, token: str) -> Wanted:
    if token.endswith(("s", "st", "stop", "stops")):
        stops = _number(token.rstrip("stop"))
        if not -15 <= stops <= 15 or stops == 0:
            raise ValueError("stops go from −15 to 15, as in: -2s")
        return replace(wanted, stops_by=stops)
    if token.endswith("%"):
        return replace(wanted, level=_level(_number(token[:-1])))
    if token.startswith("="):
        return replace(wanted, level=_level(_number(token[1:])), alike=True)
    if token.endswith("k"):
        value = _number(token[:-1])
        return replace(wanted, cct_k=_cct(value * 1000 if value <= 25 else value))
    if token[0] in "+-":
        return replace(wanted, duv=_tint(_number(token)))
    value = _number(token)
    if wanted.level is None and wanted.cct_k is None and value <= 100:
        return replace(wanted, level=_level(value))
    if wanted.cct_k is None:
        return replace(wanted, cct_k=_cct(value * 100 if value < 100 else value))
    return replace(wanted, duv=_tint(value))


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"'{text}' is no number; try: {EXAMPLES}") from None
    if value != value or abs(value) == float("inf"):
        raise ValueError(f"'{text}' is no number; try: {EXAMPLES}")
    return value


def _level(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise ValueError("a level goes from 0 to 100 %")
    return percent / 100


def _cct(cct_k: float) -> float:
    if not CCT_MIN_K <= cct_k <= CCT_MAX_K:
        raise ValueError("a white goes from 1000 to 25000 K; 56 is 5600 K, and 5600 works too")
    return cct_k


def _tint(value: float) -> float:
    """A Duv as it is, or in thousandths: +3 is +0.003."""
    duv = value if abs(value) <= DUV_LIMIT else round(value / 1000, 6)
    if abs(duv) > DUV_LIMIT:
        raise ValueError("a tint goes from −50 to +50 thousandths: −0.05 magenta to +0.05 green")
    return duv


def _read_tint(rest: list[str]) -> Wanted:
    if len(rest) != 1:
        raise ValueError("a tint is one number, as in: t +3 for +0.003 green")
    return Wanted(duv=_tint(_number(rest[0])))


def _read_xy(rest: list[str]) -> Wanted:
    if len(rest) != 2:
        raise ValueError("a chromaticity is two numbers, as in: x .45 .41")
    x, y = (_number(part) for part in rest)
    if not (0 < x < 1 and 0 < y < 1 and x + y < 1):
        raise ValueError("x and y lie between 0 and 1 and add up to less than 1")
    return Wanted(xy=(x, y))


def _read_hue(rest: list[str]) -> Wanted:
    if len(rest) != 2:
        raise ValueError("hue in degrees and saturation in per cent, as in: h 30 80")
    hue, saturation = (_number(part) for part in rest)
    if not (0 <= hue <= 360 and 0 <= saturation <= 100):
        raise ValueError("hue goes from 0 to 360 degrees, saturation from 0 to 100 %")
    return Wanted(hue=(hue, saturation / 100))
