"""A standby's part: what it may send, which commands it takes, how it reads its options. In process."""

from __future__ import annotations

import stat
import uuid
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from onecrew.commands.models import AnyCommand, Go, Note, Stop, TakeOver
from onecrew.engine.desk import Desk
from onecrew.engine.live import LiveFile
from onecrew.errors import Mistake, OnecrewError, Refused, Trouble
from onecrew.network.outputs import Outputs
from onecrew.shipped import shipped
from onecrew.show.profiles import load_profiles
from onecrew.show.show import Show
from onecrew.standby.policy import Plan, Standby, read_plan, read_secret
from tests.fakes.sockets import FakeNetwork
from tests.wire.e131_layout import parse

SECRET = b"sixteen characters or more"
FOLLOWS = Plan(SECRET, follow=("192.0.2.1", 9056))
FEEDS = Plan(SECRET, feed=("127.0.0.1", 9056))


class FakeEngine:
    def __init__(self) -> None:
        self.desk = Desk(Show(name="Small"), load_profiles([shipped("profiles")]), 0.0)
        self.wired = 0

    def adopt(self, show: Any, profiles: Any) -> None:
        raise AssertionError("nothing is followed here")

    play = stop = adopt

    def rewire(self) -> None:
        self.wired += 1


@pytest.fixture
def live(tmp_path: Path) -> LiveFile:
    return LiveFile(tmp_path / "show.live")


def part(plan: Plan | None, live: LiveFile) -> Standby:
    return Standby(plan, live, FakeEngine(), lambda _: None, lambda: 0.0)


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
def test_an_engine_that_follows_nobody_sends_as_the_show_says(plan: Plan | None, live: LiveFile) -> None:
    assert part(plan, live).wire(show(100)) == show(100)
    assert part(plan, live).artnet


@pytest.mark.parametrize(
    ("priority", "below", "above"), [(100, 90, 110), (10, 0, 20), (4, 0, 14), (200, 190, 200), (0, 0, 10)]
)
def test_a_standby_sends_below_the_main_engine_and_above_it_when_it_is_in_charge(
    priority: int, below: int, above: int, live: LiveFile
) -> None:
    """E1.31-2018 §6.2.3: priorities run from 0 to 200."""
    standby = part(FOLLOWS, live)
    sacn = standby.wire(show(priority)).output.sacn
    assert (sacn.priority, sacn.sync_universe, standby.artnet) == (below, None, False)
    assert sacn.universes == show(priority).output.sacn.universes
    standby.take_over(TakeOver())
    sacn = standby.wire(show(priority)).output.sacn
    assert (sacn.priority, sacn.sync_universe, standby.artnet) == (above, 5, True)


def test_where_art_net_may_not_be_sent_its_universes_are_not_sent_another_way(live: LiveFile) -> None:
    """Art-Net has no priority: two engines that send it at once would mix in the lamp."""
    network, rows = FakeNetwork(), np.zeros((2, 512), np.uint8)
    outputs = Outputs(show(90), (1, 2), uuid.UUID(int=1), {}, 0.0, open_socket=network, artnet=False)
    outputs.send(rows, 0.0)
    assert {parse(data).universe for address, data in network.left} == {1}
    outputs.reconfigure(show(110), (1, 2), 1.0, artnet=True)
    outputs.send(rows, 1.0)
    assert {address.port for address, _ in network.left} == {5568, 6454}


def test_to_be_in_charge_outlives_the_engine(live: LiveFile, tmp_path: Path) -> None:
    part(FOLLOWS, live).take_over(TakeOver())
    again = LiveFile(tmp_path / "show.live")
    assert again.in_charge
    part(FOLLOWS, again).take_over(TakeOver(on=False))
    assert not LiveFile(tmp_path / "show.live").in_charge


@pytest.mark.parametrize(("command", "taken"), [(Go(), False), (Note(text="x"), True), (Stop(), True)])
def test_commands_wait_until_it_is_in_charge(command: AnyCommand, taken: bool, live: LiveFile) -> None:
    standby = part(FOLLOWS, live)
    if taken:
        standby.before(command)
    else:
        with pytest.raises(Refused, match="takeover"):
            standby.before(command)
    standby.before(TakeOver())
    standby.take_over(TakeOver())
    standby.before(command)


@pytest.mark.parametrize("plan", [None, FEEDS])
def test_there_is_nothing_to_take_over_for_an_engine_that_follows_nobody(
    plan: Plan | None, live: LiveFile
) -> None:
    part(plan, live).before(Go())
    with pytest.raises(Refused, match="nothing to take over"):
        part(plan, live).before(TakeOver())


def test_taking_over_twice_is_taking_over_once(live: LiveFile) -> None:
    engine = FakeEngine()
    standby = Standby(FOLLOWS, live, engine, lambda _: None, lambda: 0.0)
    standby.take_over(TakeOver())
    standby.take_over(TakeOver())
    assert engine.wired == 1
    standby.take_over(TakeOver(on=None))  # the other of the two
    assert engine.wired == 2
    assert not live.in_charge


# ── How it is started ───────────────────────────────────────────────────────────────────────────────


def test_plans(tmp_path: Path) -> None:
    secret = tmp_path / "secret"
    secret.write_bytes(SECRET + b"\n")
    assert read_plan([]) is None
    assert read_plan(["--resumed"]) is None
    options = ["--secret", str(secret), "--resumed"]
    assert read_plan(["--standby", "192.0.2.1", *options]) == FOLLOWS
    assert read_plan(["--standby", "192.0.2.1:9056", *options]) == FOLLOWS
    assert read_plan(["--feed", "127.0.0.1:9056", *options]) == FEEDS


@pytest.mark.parametrize(
    "options", [("--standby", "the-other-laptop"), ("--standby", "192.0.2.1:0"), ("--feed", "127.0.0.1")]
)
def test_a_plan_that_makes_no_sense_is_a_sentence(options: tuple[str, str], tmp_path: Path) -> None:
    with pytest.raises(Mistake, match=r"write|a port is"):
        read_plan([*options, "--secret", str(tmp_path / "secret")])


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
    with pytest.raises(OnecrewError, match="too short"):
        read_secret(tmp_path / "short", make=True)
