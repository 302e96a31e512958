"""``profiles import``: from a GDTF file to a lamp that can be patched, and what is refused on the way."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.show.profiles import user_folder
from tests.cli.conftest import Ended
from tests.fakes.documents import document
from tests.fixtures.gdtf.files import channel, fixture_type, mode, packed

Run = Callable[..., Ended]
GOOD = fixture_type(mode(channel("1,2", "Dimmer"), channel("3", "Pan"), name="Standard"))


def test_a_file_becomes_a_profile_that_can_be_used(onecrew: Run) -> None:
    packed(Path("Nobody@Window Panel@v2.gdtf"), GOOD)
    made = onecrew("profiles", "import", "Nobody@Window Panel@v2.gdtf")
    assert (made.status, made.err) == (0, "")
    assert "mode standard, in its menu “Standard”: 3 slots" in made.out
    assert "Held at their defaults: Pan" in made.out
    assert (user_folder() / "window-panel.toml").exists()
    shown = onecrew("profiles", "window-panel", "--json").json
    assert shown["modes"][0]["menu"] == "Standard"
    show = {
        "format": "onecrew-show", "version": 2, "name": "A room",
        "rig": {"fixtures": [{"id": "window", "profile": "window-panel", "mode": "standard", "universe": 1,
                              "address": 1}]},
    }  # fmt: skip
    Path("show.json").write_text(json.dumps(document(show)), encoding="utf-8")
    assert onecrew("check", "show.json").status == 0


def test_a_name_of_ones_own_and_no_profile_is_ever_replaced(onecrew: Run) -> None:
    packed(Path("a.gdtf"), GOOD)
    assert onecrew("profiles", "import", "a.gdtf", "--as", "window").status == 0
    before = (user_folder() / "window.toml").read_bytes()
    again = onecrew("profiles", "import", "a.gdtf", "--as", "window")
    assert (again.status, again.out) == (1, "")
    assert "there is a profile window already; give another name with --as" in again.err
    assert (user_folder() / "window.toml").read_bytes() == before
    assert onecrew("profiles", "import", "a.gdtf", "--as", "My Window").status == 2
    assert onecrew("profiles", "import").status == 2


def test_a_folder_is_imported_at_once_and_the_good_files_of_it(onecrew: Run) -> None:
    Path("files").mkdir()
    packed(Path("files/Nobody@One.gdtf"), GOOD)
    packed(Path("files/Nobody@Two.GDTF"), GOOD)
    packed(Path("files/Nobody@Bad.gdtf"), GOOD[:-30])
    made = onecrew("profiles", "import", "files")
    assert made.status == 1
    assert {path.name for path in user_folder().iterdir()} == {"one.toml", "two.toml"}
    assert made.err.count("\n") == 1 and "Nobody@Bad.gdtf is broken XML" in made.err


def test_a_folder_imported_again_leaves_what_was_changed(onecrew: Run) -> None:
    Path("files").mkdir()
    packed(Path("files/Nobody@One.gdtf"), GOOD)
    assert onecrew("profiles", "import", "files").status == 0
    profile = user_folder() / "one.toml"
    changed = profile.read_text(encoding="utf-8").replace('name = "Nobody', 'name = "My own')
    profile.write_text(changed, encoding="utf-8")
    packed(Path("files/Nobody@Two.gdtf"), GOOD)
    again = onecrew("profiles", "import", "files")
    assert (again.status, again.err) == (0, "")
    assert "Nobody@One.gdtf: imported before as one, which is left as it is" in again.out
    assert profile.read_text(encoding="utf-8") == changed
    assert {path.name for path in user_folder().iterdir()} == {"one.toml", "two.toml"}


def test_another_file_of_the_same_kind_takes_the_maker_into_its_name(onecrew: Run) -> None:
    for maker in ("Nobody", "Someone"):
        packed(Path(f"{maker}@One.gdtf"), GOOD)
        assert onecrew("profiles", "import", f"{maker}@One.gdtf").status == 0
    assert {path.name for path in user_folder().iterdir()} == {"one.toml", "someone-one.toml"}


def test_what_is_refused_leaves_nothing(onecrew: Run) -> None:
    packed(Path("a.gdtf"), GOOD, [("../x", b"")])
    for path in ("a.gdtf", "nowhere.gdtf"):
        ended = onecrew("profiles", "import", path)
        assert (ended.status, ended.out, ended.err.count("\n")) == (1, "", 1)
    Path("empty").mkdir()
    assert onecrew("profiles", "import", "empty").status == 1
    assert not user_folder().exists() or not list(user_folder().iterdir())


def test_no_control_character_of_a_file_reaches_the_terminal(onecrew: Run) -> None:
    packed(Path("a.gdtf"), GOOD.replace("Standard", "Sta&#x9b;31m&#x202e;").replace("Pan", "P&#x7f;n"))
    made = onecrew("profiles", "import", "a.gdtf")
    assert made.status == 0
    assert made.out.replace("\n", "").isprintable()
    assert onecrew("profiles", "a").out.replace("\n", "").isprintable()


def test_beam_flux_and_size_of_a_file_give_a_forecast_in_lux(onecrew: Run) -> None:
    """I₀ of a cosine-power beam of 30° is 3341 cd for 1000 lm (own arithmetic): 835.3 lx at 2 m on its axis.

    A beam of radius 5 cm is a square of 8.9 cm: its points see the meter off their axis, by 0.00131 m² in the
    mean square, which takes 11 × 0.00131 / 2² = 0.36 %.
    """
    beam = '<Beam Name="Beam" LuminousFlux="1000" BeamAngle="30" BeamRadius="0.05"/>'
    packed(
        Path("a.gdtf"),
        fixture_type(
            mode(channel("1", "Dimmer"), name="Standard"),
            geometries=f'<Geometry Name="Body">{beam}</Geometry>',
        ),
    )
    assert onecrew("profiles", "import", "a.gdtf", "--as", "spot").status == 0
    shown = onecrew("profiles", "spot", "--json").json["photometry"]
    assert (shown["lumens"], shown["beam_deg"]) == (1000.0, 30.0)
    assert shown["width_m"] == pytest.approx(0.05 * math.pi**0.5, abs=1e-4)
    black = {"width_m": 4, "depth_m": 5, "height_m": 3, "walls": 0, "ceiling": 0, "floor": 0}
    subject = {
        "id": "actor",
        "kind": "subject",
        "place": {"x_m": 2, "y_m": 3, "height_m": 1.5, "aim_deg": 180},
    }
    place = {"x_m": 2, "y_m": 1, "height_m": 1.5, "aim_deg": 0, "tilt_deg": 0}
    show = {
        "format": "onecrew-show", "version": 2, "name": "A room",
        "rig": {"fixtures": [{"id": "spot", "profile": "spot", "mode": "standard", "universe": 1,
                              "address": 1}]},
        "scenes": [{"name": "One", "room": black, "set_pieces": [subject],
                    "arrangement": {"spot": {"role": "key", "place": place}}}],
    }  # fmt: skip
    Path("show.json").write_text(json.dumps(show), encoding="utf-8")
    found = onecrew("forecast", "show.json", "--json").json
    assert found["absolute"] and not found["missing"]
    assert found["lamps"][0]["lamp_lux"] == pytest.approx(835.3 * (1 - 0.0036), rel=5e-4)
