"""Shows to test with: a small one by hand, and hypothesis's own, which are free of faults."""

from __future__ import annotations

import string
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from hypothesis import strategies as st

from onecrew.shipped import shipped
from onecrew.show.base import cue_order
from onecrew.show.light import Effect, Light, White
from onecrew.show.patching import next_free_anywhere
from onecrew.show.profiles import load_profiles
from onecrew.show.show import (
    Artnet,
    ArtnetUniverse,
    Camera,
    Cue,
    Fade,
    Fixture,
    Modifier,
    Osc,
    Output,
    Page,
    Place,
    Reading,
    Remote,
    Rig,
    Sacn,
    SacnUniverse,
    SetPiece,
    Show,
)
from tests.fakes.documents import document

PROFILES = load_profiles([shipped("profiles")])

T = TypeVar("T")
Draw = Callable[[st.SearchStrategy[T]], T]


def fixture_data(**changes: Any) -> dict[str, Any]:
    """One faultless fixture as it stands in a file."""
    plain = {
        "id": "window", "profile": "panel-cct-tint", "mode": "16-bit",
        "universe": 1, "address": 1, "role": "key",
    }  # fmt: skip
    return {**plain, **changes}


def show_data(**changes: Any) -> dict[str, Any]:
    """A faultless show of two fixtures and two cues, one scene of it open."""
    plain = {
        "name": "Kitchen",
        "rig": {
            "fixtures": [
                fixture_data(),
                fixture_data(id="lamp", profile="bulb-rgbww", mode="8-bit", address=11, role="practical"),
            ]
        },
        "output": {"sacn": {"universes": {"1": {"to": ["127.0.0.1"]}}}},
        "cues": [
            {"number": "1", "shortcut": "1", "look": {"window": {"level": 0.5, "white": {"cct_k": 3200}}}},
            {"number": "2", "shortcut": "2", "look": {"lamp": {"level": 0.1, "xy": [0.5, 0.4]}}},
        ],
    }
    return {**plain, **changes}


def file_data(**changes: Any) -> dict[str, Any]:
    """The same as it stands in a file."""
    return document({"format": "onecrew-show", "version": 2, **show_data(**changes)})


# ── By hypothesis ───────────────────────────────────────────────────────────────────────────────────

names = st.from_regex(r"[a-z0-9][a-z0-9_-]{0,31}", fullmatch=True)
short_texts = st.text(max_size=80)
fractions = st.floats(0.0, 1.0)
seconds = st.floats(0.0, 3600.0)
kelvins = st.floats(1000.0, 25000.0)
duvs = st.floats(-0.05, 0.05)
places = st.builds(
    Place,
    x_m=st.floats(-50, 50),
    y_m=st.floats(-50, 50),
    height_m=st.none() | st.floats(0, 20),
    aim_deg=st.none() | st.floats(0, 360),
)
whites = st.builds(White, cct_k=kelvins, duv=duvs)
chromaticities = st.tuples(st.floats(0.01, 0.49), st.floats(0.01, 0.49))
effects = st.builds(
    Effect,
    kind=st.sampled_from(["television", "flame", "headlights", "lightning", "failing-tube"]),
    rate=st.floats(0.01, 4.0),
    depth=fractions,
    seed=st.integers(0, 2**31 - 1),
)
lights = st.one_of(
    st.builds(Light, level=fractions, white=st.none() | whites, effect=st.none() | effects),
    st.builds(Light, level=fractions, xy=chromaticities, effect=st.none() | effects),
)
modifiers = st.builds(
    Modifier, kind=st.sampled_from(["diffusion", "grid", "gel"]), stops=st.floats(0, 15), note=short_texts
)
readings = st.builds(
    Reading,
    asked_cct_k=kelvins,
    asked_duv=duvs,
    measured_cct_k=kelvins,
    measured_duv=duvs,
    light=st.floats(0.1, 1e6),
)
cameras = st.builds(
    Camera,
    iso=st.integers(1, 1_000_000),
    shutter_s=st.floats(1e-6, 3600),
    fps=st.floats(0.1, 1000),
    aperture=st.floats(0.5, 64),
    white_balance_k=kelvins,
    lens=short_texts,
    place=st.none() | places,
    note=st.text(max_size=200),
)
fades = st.builds(Fade, in_s=seconds, out_s=seconds, curve=st.sampled_from(["linear", "ease", "stops"]))
numbers = st.from_regex(r"[0-9]{1,4}(\.[0-9]{1,3})?", fullmatch=True)
keys = st.sampled_from(sorted(set(string.printable[:94] + "äßñ€")))
hosts = st.integers(1, 254).map(lambda last: f"10.0.0.{last}")
destinations = hosts | st.tuples(hosts, st.integers(1, 65535)).map(lambda pair: f"{pair[0]}:{pair[1]}")
universe_numbers = st.integers(1, 63999).map(str)
outputs = st.builds(
    Output,
    sacn=st.builds(
        Sacn,
        priority=st.integers(0, 200),
        source_name=st.none() | st.text(max_size=60),
        steady=st.booleans(),
        sync_universe=st.none() | st.integers(1, 63999),
        universes=st.dictionaries(
            universe_numbers,
            st.builds(
                SacnUniverse,
                to=st.lists(hosts, unique=True, max_size=3).map(tuple),
                interface=st.none() | hosts,
            ),
            max_size=3,
        ),
    ),
    artnet=st.none()
    | st.builds(
        Artnet,
        sync=st.booleans(),
        universes=st.dictionaries(
            st.integers(1, 32768).map(str),
            st.builds(ArtnetUniverse, to=st.lists(hosts, unique=True, min_size=1, max_size=3).map(tuple)),
            max_size=2,
        ),
    ),
)
remotes = st.builds(
    Remote,
    osc=st.none() | st.builds(Osc, allow=st.lists(hosts, max_size=2).map(tuple)),
    page=st.none() | st.just(Page(listen="0.0.0.0:9080")),
)


def _rig(draw: Draw[Any]) -> Rig:
    rig = Rig()
    for fixture_id in draw(st.lists(names, unique=True, max_size=6)):
        profile = PROFILES[draw(st.sampled_from(sorted(PROFILES)))]
        mode = draw(st.sampled_from(profile.modes))
        patch = next_free_anywhere(rig, PROFILES, mode.width)
        assert patch is not None
        fixture = Fixture(
            id=fixture_id,
            profile=profile.id,
            mode=mode.name,
            universe=patch[0],
            address=patch[1],
            role=draw(st.sampled_from(["key", "fill", "ambience"])),
            even=draw(st.booleans()),
            sharing=draw(st.booleans()),
            modifiers=draw(st.lists(modifiers, max_size=2).map(tuple)),
            place=draw(st.none() | places),
            calibration=draw(
                st.lists(readings, max_size=2, unique_by=lambda r: (r.asked_cct_k, r.asked_duv)).map(tuple)
            ),
            note=draw(short_texts),
        )
        rig = rig.model_copy(update={"fixtures": (*rig.fixtures, fixture)})
    pieces = draw(
        st.lists(
            st.builds(SetPiece, id=names, kind=short_texts, place=st.none() | places, note=short_texts),
            max_size=2,
            unique_by=lambda piece: piece.id,
        )
    )
    return Rig(fixtures=rig.fixtures, set_pieces=tuple(pieces))


def _cues(draw: Draw[Any], fixtures: Sequence[Fixture]) -> tuple[Cue, ...]:
    ids = [fixture.id for fixture in fixtures]
    looks = st.dictionaries(st.sampled_from(ids), lights, max_size=4) if ids else st.just({})
    chosen = draw(st.lists(numbers, max_size=4, unique_by=cue_order))
    their_keys = draw(st.lists(keys, min_size=len(chosen), max_size=len(chosen), unique=True))
    return tuple(
        Cue(
            number=number,
            name=draw(short_texts),
            shortcut=draw(st.sampled_from([None, key])),
            fade=draw(fades),
            delay_s=draw(seconds),
            auto_follow_s=draw(st.none() | seconds),
            flash_guard=draw(st.booleans()),
            note=draw(short_texts),
            look=draw(looks),
        )
        for number, key in zip(chosen, their_keys, strict=True)
    )


@st.composite
def shows(draw: Draw[Any]) -> Show:
    """A show without a fault, with anything in it that a show may have."""
    rig = _rig(draw)
    return Show(
        name=draw(st.text(min_size=1, max_size=80)),
        rig=rig,
        output=draw(outputs),
        remote=draw(remotes),
        camera=draw(cameras),
        cues=_cues(draw, rig.fixtures),
    )
