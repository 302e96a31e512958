"""Records: the list of takes, sheets, exports, looks and versions, from the files beside a show."""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

import pytest

from onecrew.engine import record_answers, records
from onecrew.engine.desk import Desk
from onecrew.errors import Mistake, OnecrewError, Refused
from onecrew.log.entries import to_line
from onecrew.log.logfile import log_path
from onecrew.log.recorded_state import dump_recorded_state
from onecrew.show.save import ShowFile, save_show
from onecrew.show.show import Show
from tests.log.logs import Scribe
from tests.sheet.sheets import bakery, ovens_on, profiles


def a_night() -> Scribe:
    """Two takes of one setup, both under cue 3 with its look; the second is on record as good."""
    state = json.loads(dump_recorded_state(ovens_on()))
    scribe = Scribe()
    scribe.engine("start")
    for number, begins in ((1, 10.0), (2, 40.0)):
        scribe.t = begins
        scribe.start("A", number, **state)
        scribe.t += 30.0
        scribe.end("A", number, note="door")
    record = {"setup": "A", "number": 2, "good": True, "clip": "A003C012", "notes": ["use this"]}
    scribe.add("note", "record", "take 2 of setup A on record", **record)
    return scribe


@pytest.fixture
def show_file(tmp_path: Path) -> Path:
    path = tmp_path / "bakery.json"
    save_show(bakery(), path)
    log_path(path).write_bytes(b"".join(map(to_line, a_night().entries)))
    return path


def asked(path: Path, topic: str, show: Show | None = None, **arguments: Any) -> dict[str, Any]:
    """The helper's answer, with the arguments as the engine hands them over."""
    return record_answers.answer(
        {
            "topic": topic,
            "path": str(path),
            "show": (show or bakery()).model_dump(mode="json", exclude_defaults=True),
            "asked": records.TOPICS[topic][0].model_validate(arguments).model_dump(exclude_none=True),
            "moment": json.loads(dump_recorded_state(ovens_on())),
        }
    )


def test_takes_come_with_what_is_on_record(show_file: Path) -> None:
    first, second = asked(show_file, "takes")["takes"]
    assert (first["id"], first["setup"], first["number"]) == (2, "A", 1)
    assert (first["good"], first["clip"], first["notes"]) == (None, "", ["door"])
    assert (second["good"], second["clip"], second["notes"]) == (True, "A003C012", ["use this"])
    assert second["clock"] == "15:02:51" and second["day"] == "2026-01-05", "an hour ahead of UTC"
    assert second["length_s"] == pytest.approx(30.0)


def test_a_show_without_a_log_has_no_takes(tmp_path: Path) -> None:
    assert asked(tmp_path / "new.json", "takes") == {"takes": []}


def test_sheets_of_a_take_of_a_cue_and_of_now(show_file: Path) -> None:
    taken = asked(show_file, "sheet", to="take.json", take=2)
    assert taken["file"] == str(show_file.parent / "take.json"), "beside the show"
    content = json.loads((show_file.parent / "take.json").read_text(encoding="utf-8"))
    assert (content["take"]["number"], content["take"]["setup"]) == (1, "A")
    asked(show_file, "sheet", to="cue.json", cue="3")
    assert json.loads((show_file.parent / "cue.json").read_text())["cue"]["number"] == "3"
    page = asked(show_file, "sheet", to=str(show_file.parent / "now.html"))["file"]
    assert "<html" in Path(page).read_text(encoding="utf-8")


def test_a_sheet_and_an_export_leave_an_earlier_file_of_their_name(show_file: Path) -> None:
    for topic, name in (("sheet", "a.md"), ("export", "a.csv")):
        earlier = show_file.with_name(name)
        earlier.write_text("kept")
        files = [Path(asked(show_file, topic, to=name)["file"]) for _ in range(2)]
        assert [one.name for one in files] == [f"a-2{earlier.suffix}", f"a-3{earlier.suffix}"]
        assert earlier.read_text() == "kept" and all(one.stat().st_size > 50 for one in files)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"to": "sheet.txt"}, "no ending that says its form"),
        ({"to": "bakery.json"}, "not written over"),
        ({"to": "nowhere/sheet.html"}, "cannot be written"),
        ({"to": f"{'n' * 300}.html"}, "cannot be written"),
        ({"to": "a.html", "take": 99}, "not have this take"),
        ({"to": "a.html", "cue": "77"}, "there is no cue 77"),
    ],
)
def test_a_sheet_that_cannot_be_is_a_sentence(show_file: Path, arguments: Any, said: str) -> None:
    before = show_file.read_bytes()
    with pytest.raises(OnecrewError, match=said):
        asked(show_file, "sheet", **arguments)
    assert show_file.read_bytes() == before
    assert not list(show_file.parent.glob("*.html"))


def test_exports_of_a_take_of_its_setup_and_of_all(show_file: Path) -> None:
    for arguments, events in (({"take": 2}, 1), ({"setup": "A"}, 2), ({}, 2)):
        to = asked(show_file, "export", to="cut.edl", fps=25.0, sync="01:00:00:00", **arguments)["file"]
        text = Path(to).read_text(encoding="ascii")
        assert sum(line[:3].isdigit() for line in text.splitlines()) == events
        assert "01:00:00:00" in text, "the first take begins there"
    for ending in ("otio", "vtt", "srt", "csv"):
        assert Path(asked(show_file, "export", to=f"cut.{ending}")["file"]).stat().st_size > 50


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"to": "cut.avi"}, "no ending that says its form"),
        ({"to": "cut.edl", "fps": 26.5}, "no timecode"),
        ({"to": "cut.edl", "sync": "soon"}, "the start in the footage"),
        ({"to": "cut.edl", "setup": "B"}, "no take to export"),
    ],
)
def test_an_export_that_cannot_be_is_a_sentence(show_file: Path, arguments: Any, said: str) -> None:
    with pytest.raises(OnecrewError, match=said):
        asked(show_file, "export", **arguments)
    assert not (show_file.parent / "cut.edl").exists()


def test_the_look_of_a_take_comes_back_as_a_cue_under_a_free_number(show_file: Path) -> None:
    answer = asked(show_file, "restore", take=2)
    filmed = ovens_on().look
    assert set(answer["cue"]["look"]) == set(filmed)
    assert answer["cue"]["number"] not in {cue.number for cue in bakery().cues}
    assert answer["said"] == []
    name = next(iter(filmed))
    rig = bakery().rig.model_copy(
        update={"fixtures": tuple(f for f in bakery().rig.fixtures if f.id != name)}
    )
    gone = asked(show_file, "restore", bakery().model_copy(update={"rig": rig}), take=2)
    assert f"{name} is not in the rig" in gone["said"] and name not in gone["cue"]["look"]


def test_a_breakdown_lasts_as_long_as_the_take_where_it_can(show_file: Path) -> None:
    answer = asked(show_file, "breakdown", take=2)
    steps = 1 + len(ovens_on().look)
    assert answer["as_long"] and answer["step_s"] * steps == pytest.approx(30.0, abs=0.05)
    assert answer["scene"] == "Breakdown 3"
    assert {answer["build"], answer["away"]} <= {cue["number"] for cue in answer["cues"]}


def test_a_breakdown_of_a_cue_that_is_gone_says_so(show_file: Path) -> None:
    without = bakery().model_copy(update={"cues": bakery().cues[:1]})
    with pytest.raises(Refused, match="no cue 3"):
        asked(show_file, "breakdown", without, take=2)


def test_versions_say_what_changed_and_which_is_the_present_one(tmp_path: Path) -> None:
    path = tmp_path / "bakery.json"
    show, file = bakery(), ShowFile(path)
    file.save(show)
    changed = show.model_copy(update={"cues": show.cues[1:], "name": "Night"})
    file.save(changed)
    first, second = asked(path, "versions", changed)["versions"]
    assert (first["number"], first["now"], second["now"]) == (1, False, True)
    assert second["changed"] == f"named Night, cue {show.cues[0].number} deleted"
    answer = asked(path, "version", changed, number=1)
    assert answer["changes"] == f"named {show.name}, cue {show.cues[0].number} added"
    assert any(line.startswith("cue 3") and next(iter(ovens_on().look)) in line for line in answer["lines"])
    with pytest.raises(Refused, match="no version 9"):
        asked(path, "version", number=9)


class Calm:
    """A log feed whose file has everything."""

    waits = False


def test_the_engine_asks_a_process_of_its_own(show_file: Path) -> None:
    desk = Desk(bakery(), profiles(), 0.0)
    answer = asyncio.run(records.answer("takes", {}, desk, show_file, Calm(), None, records.Kept()))  # type: ignore[arg-type]
    assert answer == asked(show_file, "takes")
    with pytest.raises(Refused, match="not have this take"):
        asyncio.run(
            records.answer("restore", {"take": 9}, desk, show_file, Calm(), None, records.Kept())  # type: ignore[arg-type]
        )
    with pytest.raises(Mistake, match="look at take"):
        records.answer("restore", {"take": "x"}, desk, show_file, Calm(), None, records.Kept())  # type: ignore[arg-type, unused-coroutine]


class Writing:
    """A log feed whose file has everything after a few looks, or never."""

    def __init__(self, looks: int) -> None:
        self.looks = looks

    @property
    def waits(self) -> bool:
        self.looks -= 1
        return self.looks >= 0


@pytest.mark.parametrize("looks", [3, 10**9])
def test_the_log_is_read_once_it_is_written_or_cannot_be(
    show_file: Path, looks: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked_at: list[int] = []
    writing = Writing(looks)

    async def helper(*_: Any) -> dict[str, Any]:
        asked_at.append(writing.looks)
        return {}

    monkeypatch.setattr(records, "asked", helper)
    monkeypatch.setattr(records, "LOOK_S", 0.001)
    monkeypatch.setattr(records, "WRITTEN_S", 0.02)
    desk = Desk(bakery(), profiles(), 0.0)
    asyncio.run(records.answer("takes", {}, desk, show_file, writing, None, records.Kept()))  # type: ignore[arg-type]
    assert asked_at == [-1 if looks == 3 else looks - 20]


def test_the_list_of_takes_is_kept_until_the_log_grows(
    show_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[str] = []

    async def helper(_: str, question: dict[str, Any], *__: Any) -> dict[str, Any]:
        read.append(question["topic"])
        return record_answers.answer(question)

    monkeypatch.setattr(records, "asked", helper)
    desk, kept = Desk(bakery(), profiles(), 0.0), records.Kept()

    def ask(topic: str) -> dict[str, Any]:
        return asyncio.run(
            records.answer(topic, {}, desk, show_file, Calm(), None, kept)  # type: ignore[arg-type]
        )

    first = ask("takes")
    assert ask("takes") == first == asked(show_file, "takes") and read == ["takes"]
    ask("versions")
    assert ask("takes") == first and read == ["takes", "versions"]
    log = log_path(show_file)
    log.write_bytes(log.read_bytes() + b"\n")
    ask("takes")
    assert read == ["takes", "versions", "takes"]
    log.unlink()
    assert ask("takes") == {"takes": []} == ask("takes"), "a log that cannot be seen is asked for each time"
    assert read[3:] == ["takes", "takes"]
