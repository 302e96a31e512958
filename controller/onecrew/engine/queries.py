"""Queries: what clients may ask of the engine besides its state. Nothing here changes anything.

Chromaticities called ``uv`` are CIE 1976 (u′, v′), those called ``xy`` CIE 1931.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from functools import cache
from typing import Annotated, Any, TypeVar

import numpy as np
from pydantic import Field, TypeAdapter, ValidationError

from onecrew.colour.cmf import matching_functions, wavelengths_nm
from onecrew.colour.daylight import daylight_xy
from onecrew.colour.limits import CCT_MAX_K, CCT_MIN_K
from onecrew.colour.locus import white_to_uv60
from onecrew.colour.spaces import uv60_to_uv76, xy_to_uv76, xyz_to_xy
from onecrew.engine.desk import Desk
from onecrew.engine.rendition_process import rendition
from onecrew.errors import Mistake
from onecrew.fixtures.emitters import mixer_of
from onecrew.fixtures.filter_mode import FilterMode
from onecrew.playback.measured import measured_profile
from onecrew.show.base import CctK, Duv, Model
from onecrew.show.destination import SLOTS
from onecrew.show.light import Light, White, Xy
from onecrew.show.patching import next_free
from onecrew.show.profile import Mode, Profile
from onecrew.show.profile_words import channel_words
from onecrew.show.show import Fixture, Show, Universe

Answer = dict[str, Any]
SlowAnswer = Coroutine[Any, Any, Answer]
T = TypeVar("T")


def answer(topic: str, arguments: dict[str, Any], desk: Desk) -> Answer | SlowAnswer:
    """Answers a question of a client, with a coroutine where the answer takes long.

    Raises ``Mistake`` with a sentence where the question makes no sense.
    """
    query = QUERIES.get(topic)
    if query is None:
        raise Mistake(f"the engine knows nothing of {topic!r}: it answers {', '.join(sorted(QUERIES))}")
    return query(desk, arguments)


# ── The rig ─────────────────────────────────────────────────────────────────────────────────────────


def profiles(desk: Desk, _arguments: dict[str, Any] | None = None) -> Answer:
    """Every kind of fixture that can be patched, by name."""
    library = sorted(desk.profiles.values(), key=lambda profile: profile.name.casefold())
    return {
        "profiles": [
            {
                "id": profile.id,
                "name": profile.name,
                "note": profile.note,
                "modes": [
                    {
                        "name": mode.name,
                        "menu": mode.menu,
                        "width": mode.width,
                        "channels": _channels(mode),
                    }
                    for mode in profile.modes
                ],
            }
            for profile in library
        ]
    }


def _channels(mode: Mode) -> list[str]:
    words = [f"{channel_words(channel)} {channel.bits}-bit" for channel in mode.channels]
    if mode.segments > 1:
        words.append(f"all of these × {mode.segments} segments")
    return words


class _Gap(Model):
    universe: Universe
    width: Annotated[int, Field(ge=1, le=SLOTS)]


def _next_free(desk: Desk, arguments: dict[str, Any]) -> Answer:
    """The lowest free address of a universe with room for ``width`` slots."""
    gap = read(_Gap, arguments)
    return {"address": next_free(desk.show.rig, desk.profiles, gap.universe, gap.width)}


class _OneFixture(Model):
    fixture: str


def _gamut(desk: Desk, arguments: dict[str, Any]) -> Answer:
    """The outline of what a fixture can give, its range of whites where it has one, and its dimming law."""
    profile, mode = _patched(desk, read(_OneFixture, arguments).fixture)
    dimming = {"dimming": profile.dimming}
    if mode.whites_only and mode.cct is not None and mode.cct.cct is not None:
        warmest_k, coolest_k = mode.cct.cct.warmest_k, mode.cct.cct.coolest_k
        tint = mode.tint.tint if mode.tint is not None else None
        duvs = (0.0,) if tint is None else (tint.points[0][1], tint.points[-1][1])
        path = 1e6 / np.linspace(1e6 / warmest_k, 1e6 / coolest_k, 24)
        sides = [white_to_uv60(path, duv) for duv in duvs]
        outline = sides[0] if len(sides) == 1 else np.concatenate((sides[0], sides[1][::-1]))
        return {"uv": _rows(uv60_to_uv76(outline)), "white": [warmest_k, coolest_k]} | dimming
    if mode.filters:
        return {"uv": _rows(FilterMode(profile, mode, even=False).gamut()), "white": None} | dimming
    names = mode.emitters or tuple(profile.emitters)
    return {"uv": _rows(mixer_of(profile, names).gamut()), "white": None} | dimming


class _LitFixture(Model):
    fixture: str
    cct_k: CctK | None = None
    duv: Duv = 0.0
    xy: Xy | None = None


def _rendition(desk: Desk, arguments: dict[str, Any]) -> SlowAnswer:
    """How surfaces fare under a fixture in a white or at an xy (or as it is by nature), by
    ``rendition_process``."""
    asked = read(_LitFixture, arguments)
    profile, _ = _patched(desk, asked.fixture)
    if asked.cct_k is not None and asked.xy is not None:
        raise Mistake("a colour is either a white or an xy: give one of the two")
    fixture = desk.show.fixture(asked.fixture)
    assert fixture is not None  # _patched has found it
    white = None if asked.cct_k is None else White(cct_k=asked.cct_k, duv=asked.duv)
    return rendition(fixture, profile, Light(level=1.0, white=white, xy=asked.xy))


def _asked(desk: Desk, _arguments: dict[str, Any]) -> Answer:
    """The light that every lamp is at or goes to, as a cue would have it, edits included."""
    lights = zip(desk.compiled.ids, desk.playback.asked, strict=True)
    return {"lights": {name: light.model_dump(mode="json", exclude_none=True) for name, light in lights}}


def _patched(desk: Desk, name: str) -> tuple[Profile, Mode]:
    fixture = desk.show.fixture(name)
    if fixture is None:
        known = ", ".join(f.id for f in desk.show.rig.fixtures) or "none is patched yet"
        raise Mistake(f"no fixture is called {name!r}: there are {known}")
    profile = measured_profile(fixture, desk.profiles[fixture.profile])
    mode = profile.mode(fixture.mode)
    if mode is None:
        raise Mistake(f"{profile.name} has no mode {fixture.mode}")
    return profile, mode


# ── Colour ──────────────────────────────────────────────────────────────────────────────────────────


@cache
def _lines() -> Answer:
    kelvins = 1e6 / np.linspace(1e6 / CCT_MIN_K, 1e6 / CCT_MAX_K, 61)
    kelvins[0], kelvins[-1] = CCT_MIN_K, CCT_MAX_K
    days = np.arange(4000.0, 10001.0, 500.0)
    spectrum = slice(20, 341, 5)  # 380–700 nm
    return {
        "planck": _labelled(kelvins, uv60_to_uv76(white_to_uv60(kelvins))),
        "daylight": _labelled(days, xy_to_uv76(daylight_xy(days))),
        "spectrum": _labelled(
            wavelengths_nm()[spectrum], xy_to_uv76(xyz_to_xy(matching_functions()[spectrum]))
        ),
    }


def _locus(_desk: Desk, _arguments: dict[str, Any]) -> Answer:
    """The Planckian locus, the daylight locus and the spectrum locus, as points to draw."""
    return _lines()


# ── Small print ─────────────────────────────────────────────────────────────────────────────────────


def read(model: type[T], arguments: dict[str, Any]) -> T:
    """The arguments of a question as the model of it; raises ``Mistake`` with what is not understood."""
    try:
        return TypeAdapter(model).validate_python(arguments)
    except ValidationError as error:
        names = ", ".join(str(entry["loc"][0]) if entry["loc"] else "it" for entry in error.errors())
        raise Mistake(f"the question is not understood: look at {names}") from None


def lamp_in(show: Show, name: str) -> Fixture:
    """The lamp that a question is about; raises ``Mistake`` where another window has taken it away."""
    fixture = show.fixture(name)
    if fixture is None:
        raise Mistake(f"there is no lamp {name} any more")
    return fixture


def _rows(points: np.ndarray[Any, Any]) -> list[list[float]]:
    return [list(map(float, row)) for row in points]


def _labelled(labels: np.ndarray[Any, Any], points: np.ndarray[Any, Any]) -> list[list[float]]:
    return _rows(np.column_stack((labels, points)))


def _show(desk: Desk, _arguments: dict[str, Any]) -> Answer:
    """The show as the last command left it, for those who cannot wait until it is sent to all."""
    return {"show": desk.show.model_dump(mode="json", exclude_defaults=True)}


QUERIES: dict[str, Callable[[Desk, dict[str, Any]], Answer | SlowAnswer]] = {
    "profiles": profiles,
    "next-free": _next_free,
    "gamut": _gamut,
    "asked": _asked,
    "rendition": _rendition,
    "locus": _locus,
    "show": _show,
}
