"""No command lets text from files or the network reach the terminal raw, and JSON stays JSON.

The hostile text has what ECMA-48 and Unicode know for acting on a terminal: ESC sequences, C1 controls (CSI
and OSC as single characters), BEL, marks that turn the direction of writing (UAX #9), a line separator.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from onecrew.cli.parser import parser
from onecrew.shipped import shipped
from onecrew.show.profiles import user_folder
from onecrew.terminal import PrintableStream, acts, guarded_output, printable, write_over, write_raw
from tests.cli.conftest import Ended

HOSTILE = "x\x1b[2J\x9b31m\x9d0;t\x07\u202eevil\u2066\u2028y"
ACTS = frozenset(HOSTILE) - frozenset("x[2J31m0;tevily")
Run = Callable[..., Ended]


def hostile_show() -> dict[str, object]:
    lamp = {"id": "oven", "profile": "practical-dimmer", "mode": "8-bit", "universe": 1, "address": 1}
    return {
        "format": "onecrew-show",
        "version": 1,
        "name": HOSTILE,
        "rig": {"fixtures": [{**lamp, "role": "practical", "note": HOSTILE}]},
        "camera": {"lens": HOSTILE, "note": HOSTILE},
        "cues": [{"number": "1", "name": HOSTILE, "note": HOSTILE, "look": {"oven": {"level": 0.5}}}],
    }


def hostile_folder() -> None:
    """A show, a broken show, and profiles sound and broken, hostile in every name that they can choose."""
    Path("s.json").write_text(json.dumps(hostile_show()), encoding="utf-8")
    broken = {**hostile_show(), HOSTILE: HOSTILE, "camera": {"iso": HOSTILE, HOSTILE: 1}}
    Path("b.json").write_text(json.dumps(broken), encoding="utf-8")
    Path(f"{HOSTILE}.json").write_text("{", encoding="utf-8")
    folder = user_folder()
    folder.mkdir(parents=True)
    sound = (shipped("profiles") / "practical-dimmer.toml").read_text(encoding="utf-8")
    name = json.dumps(HOSTILE).replace("\u2028", "\\u2028")
    renamed = sound.replace('name = "Practical on a dimmer"', f"name = {name}")
    (folder / "evil.toml").write_text(renamed, encoding="utf-8")
    (folder / "broken.toml").write_text(f"{name} = {name}\n", encoding="utf-8")
    (folder / f"{HOSTILE}.toml").write_text("name =", encoding="utf-8")


F = f"{HOSTILE}.json"
WALK: dict[str, list[list[str]]] = {
    "breakdown": [["s.json", "--cue", "1", "-n"], ["s.json", "--cue", HOSTILE], ["b.json", "--cue", "1"]],
    "calibrate": [["s.json", HOSTILE], ["s.json", "oven", "--file", F], ["b.json", "oven"],
                  ["s.json", "oven", "--like", HOSTILE, "--folder", F]],
    "completion": [["bash"], [HOSTILE]],
    "manual": [[], [HOSTILE]],
    "check": [["s.json"], ["b.json"], ["b.json", "--json"], [F], [HOSTILE]],
    "colour": [[HOSTILE], ["3200", "--profile", HOSTILE]],
    "demo": [],  # its show is the shipped one
    "engine": [["b.json"], [F]],
    "forecast": [["s.json"], ["b.json"]],
    "log": [["s.json"], ["b.json"], ["s.json", "--take", HOSTILE], ["s.json", "--kind", HOSTILE]],
    "match": [["s.json"], ["b.json"]],
    "new": [["s.json"], [F], [f"no/{F}"]],
    "nodes": [[HOSTILE], [F], ["s.json"]],
    "open": [["b.json"], [F]],
    "osc": [[], ["--json"]],
    "pair": [["s.json"], [HOSTILE]],
    "who": [["s.json"]],
    "probe": [["s.json", HOSTILE, "--slots", "3"], ["s.json", "1.1", "--slots", "3"]],
    "profiles": [[], ["--json"], [HOSTILE], ["evil"], ["evil", "--json"]],
    "restore": [[F, "s.json"], ["b.json", "s.json"], ["s.json", "--take", HOSTILE]],
    "schema": [[HOSTILE], ["show"]],
    "send": [["go"], [HOSTILE], ["note", HOSTILE], ["--show", F, "go"]],
    "sheet": [["s.json", "--cue", HOSTILE, "--to", F], ["s.json", "--cue", "1", "--to", F], ["b.json"]],
    "status": [[], ["--show", F]],
    "stills": [["s.json", HOSTILE], [F], ["b.json"]],
    "stop": [[HOSTILE], ["s.json"]],
    "substitute": [["s.json", "oven", "evil", "-n"], ["s.json", HOSTILE, "x"], ["s.json", "oven", HOSTILE]],
    "watch": [["s.json", "--for", "0.1", "--port", "0"], ["b.json"], [F]],
}  # fmt: skip


def commands() -> list[str]:
    [actions] = [a for a in parser()._actions if a.choices and a.dest == "command"]
    return list(actions.choices or ())


def test_the_walk_has_every_command() -> None:
    assert sorted(commands()) == sorted(WALK)


@pytest.mark.parametrize("command", sorted(WALK))
def test_nothing_acts_on_the_terminal(onecrew: Run, command: str) -> None:
    hostile_folder()
    for words in WALK[command]:
        ended = onecrew(command, *words)
        said = ended.out + ended.err
        assert not ACTS & set(said), (words, ascii(said)[:400])
        assert ended.status in (0, 1, 2)
        if "--json" in words and ended.status == 0:
            json.loads(ended.out)


def test_what_is_written_as_json_reads_back_as_it_was(onecrew: Run) -> None:
    hostile_folder()
    [evil] = [one for one in onecrew("profiles", "--json").json["profiles"] if one["id"] == "evil"]
    assert evil["name"] == HOSTILE


@pytest.mark.parametrize(
    "code", [*range(0x20), *range(0x7F, 0xA0), 0x200E, 0x202E, 0x2066, 0xFEFF, 0xD800, 0xE000]
)
def test_what_acts_is_written_as_its_code(code: int) -> None:
    assert acts(chr(code))
    assert printable(f"a{chr(code)}b").isascii()
    assert json.loads(f'"{printable(chr(code))}"') == chr(code)


@pytest.mark.parametrize("text", ["Café\N{NO-BREAK SPACE}noir", "夜のパン屋", "👩\u200d🍳", "Δu′v′ −½"])
def test_what_people_write_stays(text: str) -> None:
    assert printable(text) == text


def test_the_guard_is_taken_off_again_and_lets_through_what_is_meant(monkeypatch: pytest.MonkeyPatch) -> None:
    screen = io.StringIO()
    monkeypatch.setattr(sys, "stdout", screen)
    with guarded_output():
        assert isinstance(sys.stdout, PrintableStream)
        print("a\x1b[2J")
        write_raw("\x1b[H")
    assert sys.stdout is screen and screen.getvalue() == "a\\u001b[2J\n\x1b[H"


@pytest.mark.parametrize(("terminal", "written"), [(True, "\ra\\u001b[2J\x1b[K"), (False, "a\\u001b[2J\n")])
def test_a_line_is_written_over_and_lets_nothing_else_through(
    monkeypatch: pytest.MonkeyPatch, terminal: bool, written: str
) -> None:
    screen = io.StringIO()
    monkeypatch.setattr(screen, "isatty", lambda: terminal)
    monkeypatch.setattr(sys, "stderr", screen)
    with guarded_output():
        write_over("a\x1b[2J")
    assert screen.getvalue() == written
