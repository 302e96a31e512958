"""``onecrew match`` as a person or a script runs it, on a run of stills of our own."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from onecrew.cli import match, match_store
from onecrew.errors import Mistake
from onecrew.fixtures.decoder import Decoder
from onecrew.fixtures.describe import describe_colour, of_kind
from onecrew.log.logfile import log_path
from onecrew.log.matched import MOST_PICTURE
from onecrew.show.light import Light, White
from onecrew.show.load import load_show
from tests.stills.stage import PROFILES, Camera, Recorder, Stage, take_run, write_show

OUTPUTS = {"key": 0.35, "fill": 0.08, "edge": 0.2, "bulb": 0.03}
WHITES = {"key": 4300.0, "fill": 5200.0, "edge": 3400.0, "bulb": 3000.0}


@pytest.fixture
def set_up() -> Path:
    """The current folder with a show, a run of stills in ``stills`` and a reference."""
    folder = Path("stills")
    folder.mkdir()
    take_run(folder)
    Recorder().write(Path("reference.png"), Stage().light(OUTPUTS, WHITES))
    return write_show(Path())


ARGUMENTS = ("--stills", "stills", "--reference", "reference.png")


def test_json_has_the_documented_keys(onecrew: Callable[..., Any], set_up: Path) -> None:
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--region", "face=82,45,14,22", "--json")
    assert ended.status == 0, ended.err
    said = ended.json
    assert set(said["lamps"]) == set(OUTPUTS)
    for name, lamp in said["lamps"].items():
        assert {"output", "level", "cct_k", "duv", "sure"} <= lamp.keys()
        assert lamp["output"] == pytest.approx(OUTPUTS[name], rel=0.08)
        assert 0.0 <= lamp["level"] <= 1.0
    assert set(said["regions"]["face"]) >= {"stops", "delta_e"}
    assert abs(said["regions"]["face"]["stops"]) < 0.05
    assert said["exposure_stops"] == 0.0 and said["reference"] == "own"
    assert isinstance(said["notes"], list)


def test_what_is_told_is_what_leaves(onecrew: Callable[..., Any], set_up: Path) -> None:
    """A bulb of 8 bits: its level, asked again, gives the output and the white that were told."""
    bulb = onecrew("match", str(set_up), *ARGUMENTS, "--json").json["lamps"]["bulb"]
    profile = PROFILES["bulb-rgbww"]
    asked = Light(level=bulb["level"], white=White(cct_k=bulb["asked_cct_k"]))
    report = describe_colour(profile, "8-bit", asked)
    [seen] = Decoder([of_kind(profile, "8-bit")], PROFILES).decode({1: bytes(report.slots)})
    assert seen.output == pytest.approx(bulb["output"], rel=0.02)
    assert seen.cct_k == pytest.approx(bulb["cct_k"], rel=0.02)


def test_lines_to_read(onecrew: Callable[..., Any], set_up: Path) -> None:
    ended = onecrew("match", str(set_up), *ARGUMENTS)
    assert ended.status == 0
    assert re.search(r"^key +\d+(\.\d)? % ", ended.out, re.M)
    assert "expose as for the stills" in ended.out and "ΔE2000" in ended.out


def test_store_writes_the_cue_and_keeps_its_name(onecrew: Callable[..., Any], set_up: Path) -> None:
    assert onecrew("match", str(set_up), *ARGUMENTS, "--store", "4").status == 0
    cue = json.loads(set_up.read_text())["scenes"][0]["cues"][0]
    assert cue["number"] == "4" and set(cue["look"]) == set(OUTPUTS)
    assert (cue["name"], cue["shortcut"]) == ("Match reference", "4")
    assert cue["look"]["key"]["level"] == pytest.approx(0.35, rel=0.05)
    assert 4200 < cue["look"]["key"]["white"]["cct_k"] < 4400
    predicted = cue["predicted"]
    assert predicted["reference"] == "reference.png" and predicted["delta_e"] < 1.0


def test_store_never_goes_over_a_cue_unasked(onecrew: Callable[..., Any], set_up: Path) -> None:
    assert onecrew("match", str(set_up), *ARGUMENTS, "--store", "4").status == 0
    document = json.loads(set_up.read_text())
    document["scenes"][0]["cues"][0] |= {"name": "Ovens on", "note": "mine", "look": {"key": {"level": 0.1}}}
    set_up.write_text(json.dumps(document))
    before = set_up.read_bytes()
    refused = onecrew("match", str(set_up), *ARGUMENTS, "--store", "4")
    assert refused.status == 1 and set_up.read_bytes() == before
    assert "there is a cue 4 already, Ovens on" in refused.err and "--replace 4" in refused.err
    assert onecrew("match", str(set_up), *ARGUMENTS, "--replace", "4").status == 0
    cue = json.loads(set_up.read_text())["scenes"][0]["cues"][0]
    assert (cue["name"], cue["note"]) == ("Ovens on", "mine") and set(cue["look"]) == set(OUTPUTS)


def test_a_cue_that_another_page_stores_at_the_same_moment_is_not_replaced(
    onecrew: Callable[..., Any], set_up: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without = load_show(set_up, PROFILES)
    assert onecrew("match", str(set_up), *ARGUMENTS, "--store", "4").status == 0
    before = set_up.read_bytes()
    monkeypatch.setattr(match_store, "current_show", lambda _: without)
    refused = onecrew("match", str(set_up), *ARGUMENTS, "--store", "4")
    assert (refused.status, set_up.read_bytes()) == (1, before)
    assert "there is a cue 4 already" in refused.err


def test_a_second_match_is_a_cue_of_its_own_name(onecrew: Callable[..., Any], set_up: Path) -> None:
    for number in ("4", "5"):
        assert onecrew("match", str(set_up), *ARGUMENTS, "--store", number).status == 0
    cues = json.loads(set_up.read_text())["scenes"][0]["cues"]
    assert [cue["name"] for cue in cues] == ["Match reference", "Match reference (2)"]


def test_a_cue_that_is_not_there_is_not_replaced(onecrew: Callable[..., Any], set_up: Path) -> None:
    before = set_up.read_bytes()
    refused = onecrew("match", str(set_up), *ARGUMENTS, "--replace", "9")
    assert refused.status == 1 and set_up.read_bytes() == before
    assert "there is no cue 9 in this scene" in refused.err


def test_a_stored_match_is_on_record_and_on_the_sheet(onecrew: Callable[..., Any], set_up: Path) -> None:
    region = ("--region", "face=82,45,14,22")
    assert onecrew("match", str(set_up), *ARGUMENTS, *region, "--store", "4").status == 0
    cue = json.loads(set_up.read_text())["scenes"][0]["cues"][0]
    [line] = log_path(set_up).read_text().splitlines()
    entry = json.loads(line)
    assert (entry["kind"], entry["what"], entry["cue"]) == ("match", "stored", "4")
    assert entry["match"] == cue["predicted"]["id"] and entry["regions"] == cue["predicted"]["regions"]
    assert set(entry["look"]) == set(OUTPUTS)
    assert set(entry["pictures"]) == {"reference", "predicted"}
    for picture in entry["pictures"].values():
        assert len(picture) <= MOST_PICTURE
        assert Image.open(io.BytesIO(base64.b64decode(picture))).format == "JPEG"
    assert onecrew("sheet", str(set_up), "--cue", "4", "--to", "sheet.html").status == 0
    sheet = Path("sheet.html").read_text()
    shown = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', sheet)
    assert shown == [entry["pictures"]["reference"], entry["pictures"]["predicted"]]
    assert "Matched to reference.png: predicted within" in sheet and "img-src data:" in sheet
    assert onecrew("sheet", str(set_up), "--cue", "4", "--to", "sheet.md").status == 0
    assert "Matched to reference" in Path("sheet.md").read_text()
    log_path(set_up).unlink()
    assert onecrew("sheet", str(set_up), "--cue", "4", "--to", "sheet.html", "--replace").status == 0
    sheet = Path("sheet.html").read_text()
    assert "Matched to reference.png" in sheet and "data:" not in sheet


def test_a_log_that_lies_puts_nothing_on_the_sheet(onecrew: Callable[..., Any], set_up: Path) -> None:
    assert onecrew("match", str(set_up), *ARGUMENTS, "--store", "4").status == 0
    log = log_path(set_up)
    entry = json.loads(log.read_text())
    entry["pictures"] = {"reference": '"><script>1</script>', "predicted": "A" * 1_000_000, "other": "AAAA"}
    log.write_text(json.dumps(entry, separators=(",", ":")) + "\n")
    assert onecrew("sheet", str(set_up), "--cue", "4", "--to", "sheet.html").status == 0
    sheet = Path("sheet.html").read_text()
    assert "<img" not in sheet and "script" not in sheet and len(sheet) < 200_000


def test_the_report_needs_no_other_file(onecrew: Callable[..., Any], set_up: Path) -> None:
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--region", "face=82,45,14,22", "--report", "out.html")
    assert ended.status == 0
    page = Path("out.html").read_text()
    pictures = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', page)
    assert len(pictures) == 2
    for picture in pictures:
        assert Image.open(io.BytesIO(base64.b64decode(picture))).size == (200, 120)
    assert not re.search(r'(src|href)="(?!data:)', page)
    assert "script" not in page and "face" in page


def test_a_report_never_goes_over_the_show(onecrew: Callable[..., Any], set_up: Path) -> None:
    before = set_up.read_bytes()
    assert onecrew("match", str(set_up), *ARGUMENTS, "--report", str(set_up)).status != 0
    assert set_up.read_bytes() == before


def listed(change: Callable[[dict[str, Any]], None]) -> None:
    path = Path("stills/list.json")
    document = json.loads(path.read_text())
    change(document)
    path.write_text(json.dumps(document))


def twice(document: dict[str, Any]) -> None:
    Path("stills/key-6500.png").write_bytes(Path("stills/key-2700.png").read_bytes())


def other_size(document: dict[str, Any]) -> None:
    Image.new("RGB", (100, 80)).save("stills/key-6500.png")


def turned(document: dict[str, Any]) -> None:
    Image.open("stills/key-6500.png").rotate(90, expand=True).save("stills/key-6500.png")


def all_black(document: dict[str, Any]) -> None:
    for n, entry in enumerate(document["stills"]):
        picture = Image.new("RGB", (200, 120))
        picture.putpixel((n, 0), (1, 0, 0))
        picture.save(f"stills/{entry['file']}")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d["stills"][1].update(lamp="sun"), "shows 'sun', which is no lamp of this show"),
        (lambda d: d["stills"][1].update(file="gone.png"), "gone.png, and there is no such file"),
        (lambda d: d["stills"][1].update(file="../stage.json"), "lies outside"),
        (lambda d: d["stills"][1].update(file="list.json"), "is not a picture"),
        (lambda d: d["stills"][1].update(cct_k=None), "has many whites"),
        (lambda d: d["stills"][1].update(output=0.0), "at output 0"),
        (lambda d: d.update(curve="velvet"), "there is no curve 'velvet'"),
        (lambda d: d.update(stills=d["stills"][:1]), "shows no lamp"),
        (twice, "are the same picture"),
        (other_size, "all stills need the same size"),
        (turned, r"turned\?"),
        (all_black, "all stills are black"),
    ],
)
def test_bad_input_is_one_sentence_and_changes_nothing(
    onecrew: Callable[..., Any], set_up: Path, change: Callable[[dict[str, Any]], None], says: str
) -> None:
    listed(change)
    before = set_up.read_bytes()
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--store", "4", "--json")
    assert ended.status == 1
    assert re.search(says, ended.err) and ended.err.count("\n") == 1
    assert ended.out == ""
    assert set_up.read_bytes() == before


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda p: p.write_text("no picture"), "is not a picture that can be read here"),
        (lambda p: Image.new("CMYK", (200, 120)).save(p, "JPEG"), "in CMYK"),
        (lambda p: Image.new("RGB", (200, 120), (255, 255, 255)).save(p), "is clipped nearly all over"),
        (lambda p: Image.new("RGB", (200, 120)).save(p), "is black nearly all over"),
        (lambda p: Image.open(p).rotate(90, expand=True).save(p), "export a frame of theirs in their size"),
        (lambda p: Image.open(p).resize((400, 240)).save(p), "has 400 × 240 pixels and the stills"),
        (lambda p: p.unlink(), "cannot be read"),
    ],
    ids=["text", "CMYK", "white", "black", "turned", "another size", "gone"],
)
def test_a_reference_that_is_none_is_one_sentence_and_changes_nothing(
    onecrew: Callable[..., Any], set_up: Path, make: Callable[[Path], None], says: str
) -> None:
    make(Path("reference.png"))
    before = set_up.read_bytes()
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--store", "4", "--json")
    assert ended.status == 1
    assert re.search(says, ended.err) and ended.err.count("\n") == 1
    assert ended.out == "" and set_up.read_bytes() == before and not log_path(set_up).exists()


def test_a_reference_of_another_white_balance_is_read_as_one_of_the_stills(
    onecrew: Callable[..., Any], set_up: Path
) -> None:
    """The same light and the same sensor, balanced for daylight; the whites are those of the stage."""
    daylight = Stage(camera=Camera(white_balance_k=5600.0))
    Recorder().write(Path("reference.png"), daylight.light(OUTPUTS, WHITES))

    def off(*more: str) -> float:
        ended = onecrew("match", str(set_up), *ARGUMENTS, "--own", "--json", *more)
        assert ended.status == 0, ended.err
        lamps = ended.json["lamps"]
        return max(abs(1e6 / lamps[name]["asked_cct_k"] - 1e6 / white) for name, white in WHITES.items())

    as_it_is, balanced = off(), off("--reference-white", "5600K")
    assert as_it_is > 70.0 and balanced < 25.0

    ended = onecrew("match", str(set_up), *ARGUMENTS, "--reference-white", "warm")
    assert ended.status == 2 and "--reference-white" in ended.err
    listed(lambda document: document.pop("white_balance_k"))
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--reference-white", "5600")
    assert ended.status == 2 and "does not say the white balance of the stills" in ended.err


def test_two_regions_of_one_name(onecrew: Callable[..., Any], set_up: Path) -> None:
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--region", "a=1,1,9,9", "--region", "a=5,5,9,9")
    assert ended.status == 2 and "two regions are called a" in ended.err


def test_another_room_needs_regions(onecrew: Callable[..., Any], set_up: Path) -> None:
    Image.effect_noise((320, 200), 90).convert("RGB").save("reference.png")
    ended = onecrew("match", str(set_up), *ARGUMENTS)
    assert ended.status == 1 and "if it shows another room, mark the same places" in ended.err
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--region", "face=82,45,14,22:10,10,50,50", "--json")
    assert ended.status == 0 and ended.json["reference"] == "foreign"


@pytest.mark.parametrize("size", [(320, 200), (200, 120)], ids=["another size", "the same size"])
def test_the_page_opens_for_another_room_so_that_places_can_be_marked_there(
    onecrew: Callable[..., Any], set_up: Path, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    served: list[Any] = []

    def serve(*given: Any) -> int:
        served.extend(given)
        return 0

    monkeypatch.setattr(match, "serve", serve)
    Image.effect_noise(size, 90).convert("RGB").save("reference.png")
    ended = onecrew("match", str(set_up), *ARGUMENTS, "--page")
    assert ended.status == 0, ended.err
    assert "until places are marked on the page" in ended.err
    [region], found, solve = served[3:]
    assert (region.own, region.reference, found.own) == ((0, 0, 1, 1), (0, 0, 1, 1), False)
    with pytest.raises(Mistake, match="mark the same places"):
        solve(())


def test_a_reference_of_another_size_is_refused_by_its_head(
    onecrew: Callable[..., Any], set_up: Path
) -> None:
    """Its pixels are not even there."""
    whole = io.BytesIO()
    Image.new("RGB", (8800, 900)).save(whole, "PNG")
    Path("large.png").write_bytes(whole.getvalue()[:100])
    large = ("--stills", "stills", "--reference", "large.png")
    said = onecrew("match", str(set_up), *large)
    assert said.status == 1 and "large.png has 8800 × 900 pixels and the stills" in said.err
    marked = onecrew("match", str(set_up), *large, "--region", "face=82,45,14,22:8000,45,14,22")
    assert marked.status == 1 and "large.png cannot be read as a picture" in marked.err
