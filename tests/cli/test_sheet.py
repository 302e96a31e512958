"""``onecrew sheet``, ``breakdown`` and ``restore`` on files, without an engine."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
import srt
import webvtt

from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles
from onecrew.show.scenes import scenes_of
from tests.cli.conftest import Ended

Run = Callable[..., Ended]
BAKERY = Path(__file__).parents[1] / "fakes" / "kitchen.json"


@pytest.fixture(autouse=True)
def show() -> Path:
    shutil.copy(BAKERY, "bakery.json")
    return Path("bakery.json")


def cues(show: Path) -> dict[str, str]:
    return {cue.number: cue.name for cue in load_show(show, load_profiles()).cues}


# ── sheet ───────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("ending", ["html", "md", "csv", "json"])
def test_a_cue_in_every_form(ending: str, onecrew: Run) -> None:
    ended = onecrew("sheet", "bakery.json", "--cue", "3", "--to", f"s.{ending}")
    assert (ended.status, ended.out) == (0, f"wrote s.{ending}: cue 3 Ovens on\n")
    assert "window" in Path(f"s.{ending}").read_text(encoding="utf-8")


def test_a_cue_by_its_name(onecrew: Run) -> None:
    assert onecrew("sheet", "bakery.json", "--cue", "ovens on", "--to", "s.md").status == 0


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--cue", "3", "--to", "s.pdf"], 2, "end it in"),
        (["--cue", "3", "--take", "1", "--to", "s.md"], 2, "not both"),
        (["--setup", "3", "--to", "s.md"], 2, "add --take"),
        (["--to", "s.md"], 2, "no engine runs this show"),
        (["--cue", "99", "--to", "s.md"], 1, "there is no cue 99"),
        (["--cue", "Noon", "--to", "s.md"], 2, "no cue has that name"),
        (["--take", "1", "--to", "s.md"], 1, "there is no log"),
        (["--cue", "3", "--to", "bakery.json"], 2, "not written over"),
        (["--cue", "3", "--to", "nowhere/s.md"], 1, "cannot be written"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(words: list[str], status: int, said: str, onecrew: Run) -> None:
    ended = onecrew("sheet", "bakery.json", *words)
    assert (ended.status, ended.out) == (status, "")
    assert said in ended.err and ended.err.count("\n") == 1


def test_an_earlier_sheet_is_kept_unless_it_is_to_be_replaced(onecrew: Run) -> None:
    Path("s.md").write_text("of take 1")
    ended = onecrew("sheet", "bakery.json", "--cue", "3", "--to", "s.md")
    assert ended.status == 1 and "s.md is there already" in ended.err and "--replace" in ended.err
    assert Path("s.md").read_text() == "of take 1"
    assert onecrew("sheet", "bakery.json", "--cue", "3", "--to", "s.md", "--replace").status == 0
    assert "window" in Path("s.md").read_text()


# ── breakdown ───────────────────────────────────────────────────────────────────────────────────────


def test_captions_that_are_there_are_kept_and_no_scene_is_added(show: Path, onecrew: Run) -> None:
    Path("b.srt").write_text("of another build")
    before = show.read_bytes()
    ended = onecrew("breakdown", "bakery.json", "--cue", "3", "--srt", "b.srt")
    assert ended.status == 1 and "b.srt is there already" in ended.err
    assert Path("b.srt").read_text() == "of another build" and show.read_bytes() == before
    assert onecrew("breakdown", "bakery.json", "--cue", "3", "--srt", "b.srt", "--replace").status == 0
    assert "-->" in Path("b.srt").read_text()


def test_the_chains_go_into_the_file(show: Path, onecrew: Run) -> None:
    ended = onecrew("breakdown", "bakery.json", "--cue", "3", "--order", "oven")
    assert ended.status == 0 and "added the scene Breakdown 3 with 17 cues in" in ended.out
    made = load_show(show, load_profiles())
    assert made.scene == "Breakdown 3"
    before = load_show(BAKERY, load_profiles())
    assert [scene.cues for scene in scenes_of(made) if scene.name != "Breakdown 3"] == [
        scene.cues for scene in scenes_of(before)
    ]
    assert [one.place for one in made.rig.fixtures] == [one.place for one in before.rig.fixtures]
    names = cues(show)
    assert names["101"] == "Build 3: black" and names["102"] == "Build 3: + oven"
    assert names["211"] == "Away 3: all"


def test_a_dry_run_adds_nothing(show: Path, onecrew: Run) -> None:
    before = show.read_bytes()
    assert "dry run" in onecrew("breakdown", "bakery.json", "--cue", "3", "-n").out
    chains = onecrew("breakdown", "bakery.json", "--cue", "3", "-n", "--json").json
    assert [len(chains["build"]), len(chains["away"])] == [6, 11]
    assert show.read_bytes() == before


def test_a_second_breakdown_goes_behind_the_first(show: Path, onecrew: Run) -> None:
    first = scenes_of(load_show(show, load_profiles()))[0].name
    assert onecrew("breakdown", "bakery.json", "--cue", "2").status == 0
    again = onecrew("breakdown", "bakery.json", "--cue", "2")
    assert again.status == 1 and first in again.err  # the cue is in a scene that is not open now
    assert onecrew("breakdown", "bakery.json", "--cue", "102").status == 0
    made = load_show(show, load_profiles())
    assert [scene.name for scene in scenes_of(made)][:3] == [first, "Breakdown 2", "Breakdown 102"]
    assert {"301", "401"} <= cues(show).keys()


def test_captions_of_the_build_say_which_lamp_comes_when(show: Path, onecrew: Run) -> None:
    """Read back by webvtt-py and srt."""
    words = ("--cue", "3", "--fade", "1s", "--stand", "2s", "--vtt", "b.vtt", "--srt", "b.srt")
    assert onecrew("breakdown", "bakery.json", *words).status == 0
    captions = webvtt.read("b.vtt").captions
    assert [one.start_in_seconds for one in captions] == [0, 3, 6, 9, 12, 15]
    assert captions[0].text == "black" and captions[1].text.startswith("tone ")
    assert [one.content for one in srt.parse(Path("b.srt").read_text())] == [one.text for one in captions]


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--cue", "6"], 1, "lights no lamp"),
        (["--cue", "9"], 1, "there is no cue 9"),
        (["--cue", "3", "--order", "windoww"], 1, "perhaps window was meant"),
        (["--cue", "3", "--from", "4"], 1, "comes after 4"),
        (["--cue", "3", "--fade", "soon"], 2, "fade"),
        ([], 2, "--cue"),
        (["--take", "last"], 1, "there is no log"),
        (["--cue", "3", "--scene", " "], 1, "needs a name"),
    ],
)
def test_a_breakdown_that_cannot_be_is_told(
    words: list[str], status: int, said: str, show: Path, onecrew: Run
) -> None:
    before = show.read_bytes()
    ended = onecrew("breakdown", "bakery.json", *words)
    assert ended.status == status and said in ended.err
    assert show.read_bytes() == before


# ── restore ─────────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture
def sheet(onecrew: Run) -> str:
    assert onecrew("sheet", "bakery.json", "--cue", "3", "--to", "s.json").status == 0
    return "s.json"


def test_a_cue_from_a_sheet(sheet: str, show: Path, onecrew: Run) -> None:
    ended = onecrew("restore", sheet, "bakery.json")
    assert ended.status == 0 and "made cue 7 Ovens on" in ended.out
    stored = load_show(show, load_profiles())
    assert stored.cue("7") is not None and stored.cue("3") is not None
    assert stored.cue("7").shortcut == "7"  # type: ignore[union-attr]
    assert stored.cue("7").look == stored.cue("3").look  # type: ignore[union-attr]


def test_the_sheet_of_a_cue_that_was_deleted_is_restored_without_a_name_of_it(
    sheet: str, show: Path, onecrew: Run
) -> None:
    content = json.loads(Path(sheet).read_text())
    content["cue"] |= {"name": "(deleted)"}
    Path(sheet).write_text(json.dumps(content))
    assert "made cue 7 From a sheet" in onecrew("restore", sheet, "bakery.json").out


def test_missing_and_changed_lamps_are_told_with_what_to_do(sheet: str, show: Path, onecrew: Run) -> None:
    content = json.loads(show.read_text())
    fixtures = content["rig"]["fixtures"]
    content["rig"]["fixtures"] = [f for f in fixtures if f["id"] != "pendant"]
    content["scenes"][0]["arrangement"].pop("pendant")
    for cue in content["scenes"][0]["cues"]:
        cue["look"].pop("pendant", None)
    content["rig"]["fixtures"][0] |= {"profile": "panel-rgbww", "address": 200}
    show.write_text(json.dumps(content))
    ended = onecrew("restore", sheet, "bakery.json", "--dry-run")
    assert ended.status == 0
    assert "pendant is not in the rig: add --as pendant=LAMP" in ended.out
    assert "onecrew send patch pendant bulb-rgbww/8-bit 2.1 role=practical" in ended.out
    assert "was panel-cct-tint/16-bit" in ended.out and "onecrew substitute" in ended.out
    assert "dry run" in ended.out and "7" not in cues(show)
    found = onecrew("restore", sheet, "bakery.json", "-n", "--as", "pendant=van", "--json").json
    states = {lamp["id"]: (lamp["state"], lamp["on"]) for lamp in found["lamps"]}
    assert states["pendant"] == ("changed", "van") and states["window"] == ("changed", "window")
    assert states["edge"] == ("same", "edge")


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["s.json", "bakery.json", "--cue", "3"], 2, "add --replace"),
        (["s.json", "bakery.json", "--cue", "x"], 2, "not a cue number"),
        (["s.json", "bakery.json", "--take", "1"], 2, "one of the two"),
        (["bakery.json"], 2, "one of the two"),
        (["a", "b", "c"], 2, "a sheet and a show"),
        (["bakery.json", "bakery.json"], 1, "not a look sheet"),
        (["nothing.json", "bakery.json"], 1, "nothing.json"),
        (["s.json", "nothing.json"], 1, "no show"),
        (["s.json", "bakery.json", "--as", "pendant"], 2, "OLD=NEW"),
        (["s.json", "bakery.json", "--as", "pendant=tone"], 1, "would both go onto tone"),
        (["s.json", "bakery.json", "--as", "pendant=a,pendant=b"], 2, "named twice"),
    ],
)
def test_a_restore_that_cannot_be_is_one_sentence(
    words: list[str], status: int, said: str, sheet: str, show: Path, onecrew: Run
) -> None:
    before = show.read_bytes()
    ended = onecrew("restore", *words)
    assert (ended.status, ended.out) == (status, "")
    assert said in ended.err and ended.err.count("\n") == 1
    assert show.read_bytes() == before


def test_the_usage_says_which_file_may_be_left_out(onecrew: Run) -> None:
    assert "[SHEET] SHOW\n" in onecrew("restore", "--help").out


def test_a_cue_may_be_replaced_when_that_is_said(sheet: str, show: Path, onecrew: Run) -> None:
    assert onecrew("restore", sheet, "bakery.json", "--cue", "1", "--replace", "--name", "Ovens").status == 0
    assert cues(show)["1"] == "Ovens"
