"""The verb remote, and `onecrew osc` and `onecrew pair` without an engine."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from onecrew.cli import main
from onecrew.commands.context import Context
from onecrew.commands.network import SetRemote
from onecrew.commands.table import read_words, write_words
from onecrew.errors import Misuse
from onecrew.osc.addresses import methods
from onecrew.show.new import new_show
from onecrew.show.save import save_show
from onecrew.show.show import Osc, Page, Remote, Show

PAGE = Page(listen="192.168.1.5:9080")
OSC = Osc(listen="0.0.0.0:9001", allow=("192.168.1.20", "fe80::1"))


def said(text: str, present: Remote) -> Remote:
    command = read_words(text.split(), Context(Show(name="Small", remote=present)))
    assert isinstance(command, SetRemote)
    return command.remote


@pytest.mark.parametrize(
    ("text", "before", "after"),
    [
        ("remote page=192.168.1.5:9080", Remote(), Remote(page=PAGE)),
        ("remote page=on", Remote(), Remote(page=Page())),
        ("remote trim=on", Remote(page=PAGE), Remote(page=PAGE.model_copy(update={"trim": True}))),
        ("remote page=off", Remote(page=PAGE, osc=OSC), Remote(osc=OSC)),
        ("remote osc=0.0.0.0:9001 allow=192.168.1.20,fe80::1", Remote(page=PAGE), Remote(page=PAGE, osc=OSC)),
        (
            "remote osc=127.0.0.1:9002",
            Remote(osc=OSC),
            Remote(osc=Osc(listen="127.0.0.1:9002", allow=OSC.allow)),
        ),
        ("remote allow=none", Remote(osc=OSC), Remote(osc=Osc(listen=OSC.listen))),
        (
            "remote feedback=192.168.1.20:9002",
            Remote(osc=OSC),
            Remote(osc=OSC.model_copy(update={"feedback": ("192.168.1.20:9002",)})),
        ),
        ("remote osc=off page=off", Remote(page=PAGE, osc=OSC), Remote()),
        ("remote osc=[::1]:9001", Remote(), Remote(osc=Osc(listen="[::1]:9001"))),
    ],
)
def test_what_is_said_is_what_changes(text: str, before: Remote, after: Remote) -> None:
    assert said(text, before) == after


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("remote", "what and where"),
        ("remote page", "what and where"),
        ("remote page=kitchen", "has no port"),
        ("remote page=kitchen:9080", "not an address"),
        ("remote osc=0.0.0.0:70000", "not a port"),
        ("remote allow=192.168.1.20", "where to listen for OSC"),
        ("remote osc=on allow=phone", "not an IP address"),
        ("remote osc=on feedback=192.168.1.20", "has no port; write it as 192.168.1.20:9002"),
        ("remote osc=on feedback=0.0.0.0:9002", "not a place to send to"),
        ("remote osc=on feedback=192.168.1.20:80", "a port from 1024 on"),
        ("remote trim=on", "where to serve the phone page"),
        ("remote page=on trim=little", "trim is on or off"),
        ("remote midi=on", "there is no remote 'midi'"),
        ("remote page+=1", "outright"),
    ],
)
def test_misuse_is_a_sentence(text: str, why: str) -> None:
    with pytest.raises(Misuse, match=why):
        said(text, Remote())


@pytest.mark.parametrize(
    "remote",
    [
        Remote(),
        Remote(page=Page(trim=True)),
        Remote(osc=OSC),
        Remote(page=PAGE, osc=Osc(feedback=("127.0.0.1:9002",))),
    ],
)
def test_it_is_said_back_in_the_same_words(remote: Remote) -> None:
    words = write_words(SetRemote(remote=remote))
    assert said(words, Remote(page=Page(listen="127.0.0.1:1"), osc=Osc(listen="127.0.0.1:2"))) == remote


def test_the_page_of_osc_can_be_printed_for_people_and_programs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["osc"]) == 0
    printed = capsys.readouterr().out
    assert "/onecrew/recall cue [fade_s]" in printed
    assert main(["osc", "--json"]) == 0
    sent = json.loads(capsys.readouterr().out)["send"]
    assert [row["address"] for row in sent] == [method.address for method in methods()]


def test_pairing_needs_an_engine(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    show = tmp_path / "small.json"
    save_show(new_show("Small"), show)
    assert main(["pair", str(show)]) == 1
    assert "no engine runs" in capsys.readouterr().err
