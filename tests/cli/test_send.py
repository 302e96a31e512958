"""send: lines become commands, in order, until one fails; nothing is sent that was misread."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

import pytest

from onecrew.cli.send import carry_out, script
from onecrew.commands.command import Command
from onecrew.commands.cues import PutCue, Store
from onecrew.commands.light import SetLight
from onecrew.commands.running import Go
from onecrew.commands.takes import Note
from onecrew.engine.endpoint import Endpoint
from onecrew.errors import Misuse, Refused
from onecrew.language.saying import NO_CHANGE
from onecrew.show.snapshot import Snapshot
from tests.cli.conftest import Ended
from tests.commands.test_words import SHOW
from tests.fakes.engine_client import FakeClient

Run = Callable[..., Ended]


class Engine(FakeClient):
    """Answers as an engine does: a store changes the show, and the new one is there for the asking."""

    async def send(self, command: Command, /) -> bool:
        changed = await super().send(command)
        if isinstance(command, Store) and self.show is not None and command.cue is not None:
            stored = self.show.cues[0].model_copy(update={"number": command.cue})
            new = self.show.model_copy(update={"cues": (*self.show.cues, stored)})
            self.answers["show"] = {"show": new.model_dump(mode="json", exclude_defaults=True)}
        return changed


def carried(lines: list[str], client: FakeClient) -> list[Command]:
    asyncio.run(carry_out(client, script(lines), quiet=False))  # type: ignore[arg-type]
    return client.sent


def test_lines_are_sent_in_order_and_repeated_as_understood(capsys: pytest.CaptureFixture[str]) -> None:
    sent = carried(["go", "", "# a remark", "set key 15%", 'note "kettle hums"'], Engine(SHOW, None))
    assert sent == [
        Go(),
        SetLight(fixtures=("window", "lantern"), level=0.15),
        Note(text="kettle hums"),
    ]
    assert capsys.readouterr().out == "go\nset window,lantern level=15%\nnote kettle hums\n"


def test_a_line_that_changed_nothing_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    engine = Engine(SHOW, None)
    engine.changes = False
    carried(["rename Kitchen"], engine)
    assert capsys.readouterr().out == f"rename Kitchen\n{NO_CHANGE}\n"


def test_a_line_after_an_edit_sees_the_show_as_edited() -> None:
    sent = carried(["store 9", "cue 9 shortcut=9"], Engine(SHOW, None))
    assert isinstance(sent[1], PutCue)
    assert (sent[1].cue.number, sent[1].cue.shortcut) == ("9", "9")


def test_the_first_line_that_fails_ends_it() -> None:
    engine = Engine(SHOW, None)
    with pytest.raises(Misuse, match=r"line 3: .*recal"):
        carried(["go", "# then", "recal 2", "back"], engine)
    assert engine.sent == [Go()]


def test_what_the_engine_refuses_is_its_sentence() -> None:
    engine = Engine(SHOW, None)
    engine.refusal = Refused("the light is locked")
    with pytest.raises(Refused, match="line 2: the light is locked"):
        carried(["", "go"], engine)
    with pytest.raises(Refused, match=r"^the light is locked"):  # words of a command line have no line
        asyncio.run(carry_out(engine, [(None, ["go"])], quiet=True))  # type: ignore[arg-type]


def test_an_edit_is_repeated_with_what_it_changes(capsys: pytest.CaptureFixture[str]) -> None:
    lines = [
        "cue 1 fade=3.5s",
        "cue 1 fade-in=1s fade-out=2.5s auto-follow=4s guard=off",
        "output 1 multicast interface=192.0.2.9",
        "output wifi=on steady=on",
        "camera iso=1600 shutter=1/50 wb=3200",
    ]
    carried(lines, Engine(SHOW, None, {"show": {"show": SHOW.model_dump(mode="json")}}))
    said = capsys.readouterr().out.splitlines()
    assert said[0].endswith("fade=3.5s")
    assert said[1].endswith("fade-in=1s fade-out=2.5s auto-follow=4s guard=off")
    assert "1 multicast interface=192.0.2.9" in said[2]
    assert said[3].endswith("wifi=on steady=on")
    assert said[4] == "camera wb=3200 iso=1600"


def test_undo_says_what_it_took_back_and_a_name_does_nothing_to_the_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    snapshot = Snapshot(
        show="A room",
        path="a.json",
        revision=1,
        cue=None,
        next=None,
        fade=None,
        held=False,
        locked=False,
        blackout=False,
        master=1.0,
        lights={},
        outputs=(),
        engine_pid=1,
        undo="store cue 9 \x1b[31mEmber",
    )
    carried(["undo"], Engine(SHOW, snapshot, {"show": {"show": SHOW.model_dump(mode="json")}}))
    assert capsys.readouterr().out == "undo: store cue 9 \\u001b[31mEmber\n"


def test_an_open_quote_is_misuse_with_its_line() -> None:
    with pytest.raises(Misuse, match="line 2"):
        list(script(["go", 'note "open']))


@pytest.mark.parametrize("command", [["send", "go"], ["status"], ["status", "--json"], ["stop"]])
def test_without_an_engine_it_is_a_sentence(command: list[str], onecrew: Run) -> None:
    ended = onecrew(*command)
    assert (ended.status, ended.out) == (1, "")
    assert ended.err.startswith("onecrew: no engine is running")
    assert ended.err.count("\n") == 1


def test_with_a_show_named_it_is_a_sentence_too(onecrew: Run) -> None:
    ended = onecrew("send", "go", "--show", "night.json")
    assert (ended.status, ended.out) == (1, "")
    assert "no engine runs for" in ended.err and "night.json" in ended.err


def test_stop_all_with_nothing_running_is_done(onecrew: Run) -> None:
    assert onecrew("stop", "--all") == Ended(0, "", "")


def test_with_two_engines_the_show_must_be_named(onecrew: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    two = [Endpoint(show, 1, "token", 1, None) for show in ("/shows/a.json", "/shows/b.json")]
    monkeypatch.setattr("onecrew.cli.reach.running_engines", lambda: iter(two))
    ended = onecrew("send", "go")
    assert (ended.status, ended.out) == (2, "")
    assert "2 engines run" in ended.err and "--show" in ended.err
    assert "a.json" in ended.err and "b.json" in ended.err


def test_an_address_of_another_machine_is_said_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    """192.0.2.0/24 is TEST-NET-1 (RFC 5737): no machine has an address of it."""
    lines = ["remote osc=192.0.2.7:9001", "remote page=192.0.2.7:9080 osc=off", "remote page=127.0.0.1:9080"]
    for line in lines:
        assert len(carried([line], Engine(SHOW, None))) == 1  # a show may be made ready for another place
    osc, page = capsys.readouterr().err.splitlines()
    assert "remote.osc.listen: 192.0.2.7 is not an address of this machine" in osc
    assert "remote.page.listen" in page and "0.0.0.0:9080" in page
