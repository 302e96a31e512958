"""A standby's part: what it may send, which commands it takes, how it reads its options. In process."""

from __future__ import annotations

import os
import stat
import uuid
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from onecrew.commands.command import Command
from onecrew.commands.running import Go
from onecrew.commands.session import Stop, TakeOver
from onecrew.commands.takes import Note
from onecrew.errors import Mistake, OnecrewError, Refused, Trouble
from onecrew.network.outputs import Outputs
from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles
from onecrew.show.scenes import document_of
from onecrew.show.show import Show
from onecrew.standby.options import Options, read_options, read_secret
from onecrew.standby.policy import Adopt, End, InControl, Play, Say, Standby
from tests.fakes.sockets import FakeNetwork
from tests.wire.e131_layout import parse

SECRET = b"sixteen characters or more"
FOLLOWS = Options(SECRET, follow=("192.0.2.1", 9056))
FEEDS = Options(SECRET, feed=("127.0.0.1", 9056))


PROFILES = load_profiles([shipped("profiles")])


def part(plan: Options | None, *, in_charge: bool = False) -> Standby:
    return Standby(plan, in_charge=in_charge, profiles=PROFILES)


def show(priority: int) -> Show:
    return Show.model_validate(
        {
            "name": "Small",
            "output": {
                "sacn": {"priority": priority, "sync_universe": 5, "universes": {"1": {"to": ["192.0.2.9"]}}},
                "artnet": {"universes": {"2": {"to": ["192.0.2.9"]}}},
            },
        }
    )


@pytest.mark.parametrize("plan", [None, FEEDS])
def test_an_engine_that_follows_nobody_sends_as_the_show_says(plan: Options | None) -> None:
    assert part(plan).wire(show(100)) == show(100)
    assert part(plan).artnet


@pytest.mark.parametrize(
    ("priority", "below", "above"), [(100, 90, 110), (10, 0, 20), (4, 0, 14), (200, 190, 200), (0, 0, 10)]
)
def test_a_standby_sends_below_the_main_engine_and_above_it_when_it_is_in_charge(
    priority: int, below: int, above: int
) -> None:
    """E1.31-2018 §6.2.3: priorities run from 0 to 200."""
    standby = part(FOLLOWS)
    sacn = standby.wire(show(priority)).output.sacn
    assert (sacn.priority, sacn.sync_universe, standby.artnet) == (below, None, False)
    assert sacn.universes == show(priority).output.sacn.universes
    standby.take_over(TakeOver())
    sacn = standby.wire(show(priority)).output.sacn
    assert (sacn.priority, sacn.sync_universe, standby.artnet) == (above, 5, True)


def test_where_art_net_may_not_be_sent_its_universes_are_not_sent_another_way() -> None:
    """Art-Net has no priority: two engines that send it at once would mix in the lamp."""
    network, rows = FakeNetwork(), np.zeros((2, 512), np.uint8)
    outputs = Outputs(show(90), (1, 2), uuid.UUID(int=1), {}, 0.0, open_socket=network, artnet=False)
    outputs.send(rows, 0.0)
    assert {parse(data).universe for address, data in network.left} == {1}
    outputs.reconfigure(show(110), (1, 2), 1.0, artnet=True)
    outputs.send(rows, 1.0)
    assert {address.port for address, _ in network.left} == {5568, 6454}


def test_one_that_was_in_charge_when_its_engine_died_is_in_charge_again() -> None:
    again = part(FOLLOWS, in_charge=True)
    assert again.wire(show(100)).output.sacn.priority == 110
    again.check(Go())


@pytest.mark.parametrize(("command", "taken"), [(Go(), False), (Note(text="x"), True), (Stop(), True)])
def test_commands_wait_until_it_is_in_charge(command: Command, taken: bool) -> None:
    standby = part(FOLLOWS)
    if taken:
        standby.check(command)
    else:
        with pytest.raises(Refused, match="takeover"):
            standby.check(command)
    standby.check(TakeOver())
    standby.take_over(TakeOver())
    standby.check(command)


@pytest.mark.parametrize("plan", [None, FEEDS])
def test_there_is_nothing_to_take_over_for_an_engine_that_follows_nobody(
    plan: Options | None,
) -> None:
    part(plan).check(Go())
    with pytest.raises(Refused, match="nothing to take over"):
        part(plan).check(TakeOver())


def test_taking_over_twice_is_taking_over_once() -> None:
    standby = part(FOLLOWS)
    assert InControl(True) in standby.take_over(TakeOver())
    assert standby.take_over(TakeOver()) == []
    assert standby.in_charge
    assert InControl(False) in standby.take_over(TakeOver(on=None))  # the other of the two
    assert not standby.in_charge


# ── What it does about what it hears ────────────────────────────────────────────────────────────────

PLAYS: dict[str, Any] = {"format": 1, "anything": "the engine reads it"}


def told(name: str) -> dict[str, Any]:
    return {"show": document_of(Show(name=name)).model_dump_json(), "profiles": {}}


def test_the_show_is_adopted_and_what_plays_is_played_by_our_clock() -> None:
    standby = part(FOLLOWS)
    assert standby.receive_playback(PLAYS, 3.0) == []  # no show yet that it could belong to
    (adopt,) = standby.receive_show(told("Night"))
    assert isinstance(adopt, Adopt)
    assert (adopt.show.name, adopt.profiles) == ("Night", PROFILES)
    assert standby.receive_playback(PLAYS, 3.0) == [Play(PLAYS, 3.0)]


def test_a_show_that_cannot_be_used_is_said_and_nothing_of_it_is_played() -> None:
    standby = part(FOLLOWS)
    (said,) = standby.receive_show({"show": "{}", "profiles": {}})
    assert isinstance(said, Say) and "cannot be used" in said.sentence
    assert standby.receive_playback(PLAYS, 3.0) == []


def test_in_charge_nothing_is_heard_and_giving_back_takes_up_what_was_said_meanwhile() -> None:
    standby = part(FOLLOWS)
    standby.receive_show(told("Before"))
    standby.take_over(TakeOver())
    assert standby.receive_show(told("Meanwhile")) == []
    assert standby.receive_playback(PLAYS, 2.0) == []
    in_control, said, adopt, play = standby.take_over(TakeOver(on=False))
    assert (in_control, play) == (InControl(False), Play(PLAYS, 2.0))
    assert isinstance(said, Say) and "stands by" in said.sentence
    assert isinstance(adopt, Adopt) and adopt.show.name == "Meanwhile"


def test_it_ends_with_the_main_engine_unless_it_is_in_charge() -> None:
    standby = part(FOLLOWS)
    assert standby.receive_end() == [End()]
    standby.take_over(TakeOver())
    (said,) = standby.receive_end()
    assert isinstance(said, Say)


# ── How it is started ───────────────────────────────────────────────────────────────────────────────


def test_plans(tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_bytes(SECRET + b"\n")
    secret.chmod(0o600)
    assert read_options([]) is None
    assert read_options(["--resumed"]) is None
    options = ["--secret", str(secret), "--resumed"]
    assert read_options(["--standby", "192.0.2.1", *options]) == FOLLOWS
    assert read_options(["--standby", "192.0.2.1:9056", *options]) == FOLLOWS
    assert read_options(["--feed", "127.0.0.1:9056", *options]) == FEEDS


@pytest.mark.parametrize(
    "options", [("--standby", "the-other-laptop"), ("--standby", "192.0.2.1:0"), ("--feed", "127.0.0.1")]
)
def test_a_plan_that_makes_no_sense_is_a_sentence(options: tuple[str, str], tmp_path: Path) -> None:
    with pytest.raises(Mistake, match=r"write|a port is"):
        read_options([*options, "--secret", str(tmp_path / "secret")])


def test_the_main_engine_makes_a_secret_that_only_its_user_can_read(tmp_path: Path) -> None:
    path = tmp_path / "secret"
    secret = read_secret(path, make=True)
    assert len(secret) >= 32
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert read_secret(path, make=True) == secret
    assert read_secret(path, make=False) == secret
    assert read_secret(tmp_path / "other", make=True) != secret


def test_a_secret_that_is_missing_or_too_short_is_trouble_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="copy the main engine's"):
        read_secret(tmp_path / "secret", make=False)
    (tmp_path / "short").write_text("guess me\n")
    (tmp_path / "short").chmod(0o600)
    with pytest.raises(OnecrewError, match="too short"):
        read_secret(tmp_path / "short", make=True)


@pytest.mark.skipif(os.name != "posix", reason="permissions of this kind are those of POSIX")
@pytest.mark.parametrize("mode", [0o644, 0o640, 0o604, 0o620])
def test_a_secret_that_others_of_the_computer_may_reach_is_refused(mode: int, tmp_path: Path) -> None:
    path = tmp_path / "secret"
    read_secret(path, make=True)
    path.chmod(mode)
    with pytest.raises(Trouble, match="chmod 600"):
        read_secret(path, make=True)
    path.chmod(0o400)
    assert read_secret(path, make=False)
