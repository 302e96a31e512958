"""The takes on the screens: the list that k opens on Log, and what can be done with each.

Look sheets, the record of a take, its look as a cue again, its breakdown, exports for the edit: one place for
what is filmed already.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.cells import cell_len

from onecrew.commands.cue_list import Learn
from onecrew.commands.cues import PutCue
from onecrew.commands.scenes import NewScene
from onecrew.commands.takes import TakeRecord
from onecrew.language.phrases import build
from onecrew.language.reading import number, within
from onecrew.show.show import Cue
from onecrew.tui import words
from onecrew.tui.base import BaseScreen
from onecrew.tui.dialogs.form import Form
from onecrew.tui.dialogs.listing import Key, Line, Listing
from onecrew.tui.drawing.canvas import fit, fit_ends
from onecrew.tui.files import ask_sheet, named

KEYS = (
    Key("enter,s", "Enter", "its look sheet, opened in the browser", "sheet"),
    Key("e", "e", "change what is on record: good or bad, clip, note", "edit"),
    Key("g", "g", "good", "good"),
    Key("G", "Shift+G", "bad", "bad"),
    Key("r", "r", "restore its look as a new cue", "restore"),
    Key("b", "b", "break its look down, lamp by lamp, in a scene of its own", "breakdown"),
    Key("l", "l", "learn the last one: its cues follow one another by themselves", "learn"),
    Key("x", "x", "export for the edit: markers, captions, a table", "export"),
)
NOW = "now"
"""Value of the line that stands for what shows."""
COLUMNS = (7, 5, 8, 9, 19, 9)
"""Widths of a take's columns before its note; the time is wider where takes are of several days."""
WIDEST_NAME = 15
"""Of a long name of a take; the cue's column gives what that needs."""
VERDICTS = {True: "good", False: "bad", None: "open"}


@dataclass(frozen=True, slots=True)
class Taken:
    """A take as the engine lists it."""

    id: int
    setup: str
    number: int
    day: str
    clock: str
    length: str
    cue: str
    clip: str
    good: bool | None
    note: str
    last: bool

    @property
    def name(self) -> str:
        return f"{self.setup}/{self.number}"


def takes_of(answer: dict[str, Any]) -> list[Taken]:
    """The takes of an answer, newest first."""
    takes = answer.get("takes", ())
    return [_taken(one, last=one is takes[-1]) for one in reversed(takes)]


def _taken(one: dict[str, Any], *, last: bool) -> Taken:
    length = "runs" if one["length_s"] is None else words.seconds(one["length_s"])
    return Taken(
        id=int(one["id"]),
        setup=str(one["setup"]),
        number=int(one["number"]),
        day=str(one["day"]),
        clock=str(one["clock"]),
        length="cut short" if one["cut_short"] else length,
        cue=str(one["cue"]).removeprefix("cue "),
        clip=str(one["clip"]),
        good=one["good"],
        note="; ".join(map(str, one["notes"])),
        last=last,
    )


def columns(cells: Sequence[str], dated: bool, wider: int = 0) -> str:
    """A row of the list: take, verdict, time, length, cue, clip, note; ``wider`` goes from cue to take."""
    widths = [width + 3 if dated and at == 2 else width for at, width in enumerate(COLUMNS)]
    widths[0] += wider
    widths[4] -= wider
    others = (fit(cell, width) for cell, width in zip(cells[1:-1], widths[1:], strict=True))
    return " ".join([fit_ends(cells[0], widths[0]), *others, cells[-1]])


def line(take: Taken, today: str, dated: bool, wider: int = 0) -> Line:
    at = take.clock if take.day == today else f"{take.day[5:]} {take.clock[:5]}"
    good = "" if take.good is None else VERDICTS[take.good]
    cells = (take.name, good, at, take.length, take.cue, take.clip, take.note)
    return Line(str(take.id), columns(cells, dated, wider), str(take.number))


def ask(screen: BaseScreen, at: str = "") -> None:
    """List the takes, with what shows now at the top, and do what is asked with one."""

    def have(answer: dict[str, Any]) -> None:
        _list(screen, takes_of(answer), at)

    screen.desk.fetch("takes", have, opens=True)


def _list(screen: BaseScreen, takes: Sequence[Taken], at: str) -> None:
    today = takes[0].day if takes else ""
    dated = any(take.day != today for take in takes)
    longest = max((cell_len(take.name) for take in takes), default=0)
    wider = max(min(longest, WIDEST_NAME) - COLUMNS[0], 0)
    head = columns(("take", "good", "at", "length", "cue", "clip", "note"), dated, wider)
    lines = [Line(NOW, "what shows now"), *(line(take, today, dated, wider) for take in takes)]
    show = screen.desk.show
    question = f"Takes of {show.name if show is not None else 'the show'}"
    chosen = at or (str(takes[0].id) if takes else NOW)

    def take(answer: tuple[str, str] | None) -> None:
        if answer is not None:
            what, value = answer
            do(screen, what, next((one for one in takes if str(one.id) == value), None))

    screen.app.push_screen(Listing(question, lines, KEYS, at=chosen, head=head), take)


def do(screen: BaseScreen, what: str, take: Taken | None) -> None:
    """One of the answers of ``KEYS`` for a take; None for what shows now."""
    if take is None:
        if what == "sheet":
            ask_sheet(screen, "what shows now", NOW)
        elif what == "export":
            _ask_export(screen, None)
        else:
            screen.desk.say("That is for a take: t on Shoot starts one.", refused=True)
        return
    match what:
        case "sheet":
            ask_sheet(screen, f"take {take.name}", take.name, take=take.id)
        case "good" | "bad":
            _record(screen, take, build(TakeRecord, setup=take.setup, number=take.number, verdict=what))
        case "edit":
            screen.app.push_screen(record_form(take), lambda command: _record(screen, take, command))
        case "restore":
            _restore(screen, take)
        case "learn" if take.last:
            learn(screen)
        case "learn":
            screen.desk.say(f"Take {take.name} is not the last one: only that can be learnt.", refused=True)
        case "breakdown":
            _break_down(screen, take)
        case "export":
            _ask_export(screen, take)


def learn(screen: BaseScreen) -> None:
    """The times at which the cues of the last take ran become their auto-follow times."""
    screen.send(Learn(), "The cues follow one another as in the last take: # has the times, u takes it back.")


def _record(screen: BaseScreen, take: Taken, command: TakeRecord | None) -> None:
    """Send it and list the takes again."""
    if command is not None:
        screen.send(command)
    ask(screen, str(take.id))


def record_form(take: Taken) -> Form[TakeRecord]:
    """Changes what is on record of a take."""
    fields = {"good or bad": VERDICTS[take.good], "clip": take.clip, "note": take.note}

    def read(texts: dict[str, str]) -> TakeRecord:
        said = texts["good or bad"].lower() or "open"
        verdict = next((word for word in VERDICTS.values() if word.startswith(said)), None)
        if verdict is None:
            raise ValueError("a take is good, bad or open")
        changed = {key: texts[key] for key in ("clip", "note") if texts[key] != fields[key]}
        if verdict != fields["good or bad"]:
            changed["verdict"] = verdict
        return build(TakeRecord, setup=take.setup, number=take.number, **changed)

    hint = "Good, bad or open. The clip is the name that the camera gave its file. Empty takes them away."
    return Form(f"Take {take.name}", fields, read, hint)


def _restore(screen: BaseScreen, take: Taken) -> None:
    def have(answer: dict[str, Any]) -> None:
        cue = Cue.model_validate(answer["cue"])
        otherwise = "".join(f" {said[0].upper()}{said[1:]}." for said in answer["said"])
        done = f"Cue {cue.number} has the look of take {take.name}: # lists it, u takes it back.{otherwise}"
        screen.send(PutCue(cue=cue, new=True), done)

    screen.desk.fetch("restore", have, take=take.id)


def _break_down(screen: BaseScreen, take: Taken) -> None:
    def have(answer: dict[str, Any]) -> None:
        cues = tuple(Cue.model_validate(one) for one in answer["cues"])
        long = "as long as the take" if answer["as_long"] else f"{answer['step_s']:g} s a step"
        done = (
            f"{answer['scene']} is open: {long}. To film it, Shift+T on Shoot: breakdown from black "
            f"{answer['build']}; the lamps away: breakdown from {answer['away']}. F9 leads back."
        )
        screen.send(NewScene(name=answer["scene"], cues=cues), done)

    screen.desk.fetch("breakdown", have, take=take.id)


def _ask_export(screen: BaseScreen, take: Taken | None) -> None:
    def have(answer: dict[str, Any]) -> None:
        screen.desk.say(f"Written: {answer['file']}")

    def given(asked: dict[str, Any] | None) -> None:
        if asked is not None:
            screen.desk.fetch("export", have, **asked)

    screen.app.push_screen(export_form(screen, take), given)


def export_form(screen: BaseScreen, take: Taken | None) -> Form[dict[str, Any]]:
    """Asks what to export for the edit, into which file, and how it lies on the footage."""
    show = screen.desk.show
    fps = show.camera.fps if show is not None else 25.0
    which: dict[str, dict[str, Any]] = {"all": {}}
    called = {"all": "takes"}
    if take is not None:
        which = {"take": {"take": take.id}, "setup": {"setup": take.setup}, **which}
        called |= {"take": take.name, "setup": take.setup}

    def meant(texts: dict[str, str]) -> str | None:
        said = texts["of"].lower()
        return next((word for word in which if said and word.startswith(said)), None)

    def read(texts: dict[str, str]) -> dict[str, Any]:
        of = meant(texts)
        if of is None:
            raise ValueError(f"export which: {', '.join(which)}")
        if not texts["file"]:
            raise ValueError("type the name of the file")
        asked: dict[str, Any] = {**which[of], "to": texts["file"]}
        asked["fps"] = within(number(texts["frame rate"], "frame rate"), 1.0, 60.0, "frame rate")
        if texts["start at"]:
            asked["sync"] = texts["start at"]
        return asked

    def moved(label: str, texts: dict[str, str]) -> dict[str, str]:
        of = meant(texts)
        return {"file": named(screen, called[of], ".edl")} if label == "of" and of is not None else {}

    of = next(iter(which))
    fields = {"of": of, "file": named(screen, called[of], ".edl"), "frame rate": f"{fps:g}", "start at": ""}
    hint = (
        f"Of: {', '.join(which)}. The ending says the form: .edl and .otio markers, .vtt and .srt captions, "
        ".csv a table. A file of the same name stays: this one gets a number. Start at: where the take "
        "begins in the footage, as 01:00:12:05 or 12.2 s, or clock."
    )
    return Form(
        "Export for the edit" if take is None else f"Export take {take.name} for the edit",
        fields,
        read,
        hint,
        moved,
    )
