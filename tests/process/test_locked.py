"""A locked desk is not ended by accident, whoever asks; what must be sure asks twice."""

from __future__ import annotations

import signal

from tests.process.house import WAIT_S, House
from tests.process.test_crashes import level


def locked(house: House) -> None:
    house.tell(kind="recall", cue="1", fade_s=0.0)
    house.ear.wait(lambda packet: level(packet) == 32768)
    house.tell(kind="lock", on=True)
    house.wait_status(lambda status: status["locked"])


def test_stop_without_a_terminal_says_how_to_confirm(house: House) -> None:
    engine = house.engine()
    locked(house)
    for words in (["stop", "--show", str(house.show)], ["send", "stop"]):
        refused = house.run(*words)
        assert refused.returncode == 1
        assert "the desk is locked" in refused.stderr
    mark = len(house.ear.packets)
    assert level(house.ear.wait(lambda packet: True, mark)) == 32768
    assert engine.poll() is None
    assert house.run("stop", "--yes", "--fade", "0s", "--show", str(house.show)).returncode == 0
    assert engine.wait(WAIT_S) == 0


def test_ctrl_c_says_so_first_and_a_second_one_ends_it(house: House) -> None:
    engine = house.engine()
    locked(house)
    engine.send_signal(signal.SIGINT)
    status = house.wait_status(lambda status: "Ctrl-C again" in status["message"])
    assert status["lights"]["window"]["level"] == 0.5
    engine.send_signal(signal.SIGINT)
    assert engine.wait(WAIT_S) == 0
    assert [packet.terminated for packet in house.ear.since(-3)] == [True, True, True]


def test_an_end_with_a_show_that_is_not_saved_is_confirmed_as_well(house: House) -> None:
    engine = house.engine()
    house.show.write_text("{ no show")
    house.tell(kind="rename", name="Later")
    house.wait_status(lambda status: not status["saved"]["ok"])
    refused = house.run("stop", "--show", str(house.show))
    assert refused.returncode == 1
    assert "not saved" in refused.stderr and "--yes" in refused.stderr
    assert house.run("stop", "--yes", "--fade", "0s", "--show", str(house.show)).returncode == 0
    assert engine.wait(WAIT_S) == 0


def test_a_signal_of_the_system_ends_it_all_the_same(house: House) -> None:
    engine = house.engine()
    locked(house)
    engine.send_signal(signal.SIGTERM)
    assert engine.wait(WAIT_S) == 0
