"""A disk that is full or read-only: the light goes on, the state says so, nothing is lost, it is saved later.

Each test runs twice: on a real file system of its own (tmpfs in a mount namespace) where the machine allows
that, and with the same errors injected into the engine.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest

from tests.process.namespaces import Namespaces, needs_namespaces
from tests.process.sandbox import WAIT_S, Sandbox, kill
from tests.process.test_crashes import level

INJECTED = Path(__file__).parent / "injected"
CARD_BYTES = 1 << 20


class Card(Protocol):
    """The disk that the show lies on."""

    sandbox: Sandbox

    def fill(self) -> None: ...
    def lock(self) -> None: ...
    def mend(self) -> None: ...
    def read(self) -> dict[str, Any]: ...


def fill(folder: Path) -> None:
    """Puts a file into a folder that takes all the room there is."""
    with (folder / "filler").open("wb", buffering=0) as filler, contextlib.suppress(OSError):
        while True:
            filler.write(bytes(4096))


class RealCard:
    """A tmpfs with the show in it, in a mount namespace that the engine lives in."""

    def __init__(self, sandbox: Sandbox) -> None:
        needs_namespaces()
        self.sandbox = sandbox
        self._namespaces = Namespaces("mount")
        self._folder = sandbox.folder / "card"
        self._folder.mkdir()
        self._run("mount", "-t", "tmpfs", "-o", f"size={CARD_BYTES}", "tmpfs", str(self._folder))
        shutil.copy(sandbox.show, self._namespaces.seen(self._folder))
        sandbox.show = self._folder / sandbox.show.name
        sandbox.prefix, sandbox.seen = self._namespaces.prefix, self._namespaces.seen

    def fill(self) -> None:
        fill(self._namespaces.seen(self._folder))

    def lock(self) -> None:
        self._run("mount", "-o", "remount,ro", str(self._folder))

    def mend(self) -> None:
        self._run("mount", "-o", "remount,rw", str(self._folder))
        (self._namespaces.seen(self._folder) / "filler").unlink(missing_ok=True)

    def read(self) -> dict[str, Any]:
        return dict(json.loads(self.sandbox.seen(self.sandbox.show).read_text()))

    def close(self) -> None:
        self._namespaces.close()

    def _run(self, *words: str) -> None:
        self._namespaces.run(*words)


class InjectedCard:
    """The sandbox's own folder, with an engine that finds it full or read-only."""

    def __init__(self, sandbox: Sandbox) -> None:
        self.sandbox = sandbox
        self._faults = sandbox.folder / "faults"
        self._faults.mkdir()
        sandbox.env |= {"PYTHONPATH": str(INJECTED), "ONECREW_TEST_FAULTS": str(self._faults)}

    def fill(self) -> None:
        (self._faults / "disk-full").write_text(str(self.sandbox.show.parent / f".{self.sandbox.show.name}"))

    def lock(self) -> None:
        (self._faults / "read-only").write_text(str(self.sandbox.show.parent / f".{self.sandbox.show.name}"))

    def mend(self) -> None:
        for fault in self._faults.iterdir():
            fault.unlink()

    def read(self) -> dict[str, Any]:
        return dict(json.loads(self.sandbox.show.read_text()))

    def close(self) -> None:
        pass


@pytest.fixture(params=[RealCard, InjectedCard], ids=["real", "injected"])
def card(request: pytest.FixtureRequest, sandbox: Sandbox) -> Iterator[Card]:
    card = request.param(sandbox)
    yield card
    sandbox.close_processes()
    card.close()


def stored(card: Card, number: str) -> bool:
    """Whether the file holds this cue by now."""
    deadline = time.monotonic() + WAIT_S
    while all(cue["number"] != number for cue in card.read()["scenes"][0]["cues"]):
        if time.monotonic() > deadline:
            return False
        time.sleep(0.05)
    return True


def change(sandbox: Sandbox, number: str) -> None:
    sandbox.tell(kind="set", fixtures=["window"], level=0.15)
    sandbox.tell(kind="store", cue=number, name="Ember")


@pytest.mark.parametrize(("fault", "words"), [("fill", "disk is full"), ("lock", "may not be written")])
def test_a_show_that_cannot_be_saved_costs_no_light_and_is_saved_when_it_can_be(
    card: Card, fault: str, words: str
) -> None:
    sandbox = card.sandbox
    sandbox.engine()
    before = card.read()
    getattr(card, fault)()
    change(sandbox, "7")
    status = sandbox.wait_status(lambda status: not status["saved"]["ok"])
    assert words in status["saved"]["error"] and not status["saved"]["outside"]
    refused = sandbox.run("send", "file", "take").stderr
    assert "no other program wrote to the file; the show is not saved" in refused and words in refused
    assert card.read() == before  # whole, and as it was
    sandbox.tell(kind="recall", cue="2", fade_s=1.0)  # the light does not care
    sandbox.wait_status(lambda now: now["cue"] == "2" and now["fade"] is None)
    packets = sandbox.receiver.since(0)
    assert level(packets[-1]) == 65535
    assert [p.sequence for p in packets] == [(packets[0].sequence + n) % 256 for n in range(len(packets))]
    assert sandbox.wait_status()["engine_pid"] == status["engine_pid"]
    card.mend()
    sandbox.wait_status(lambda now: now["saved"]["ok"])
    assert stored(card, "7")


def test_an_engine_killed_while_its_disk_is_full_comes_back_with_the_change_in_hand(card: Card) -> None:
    sandbox = card.sandbox
    sandbox.engine()
    card.fill()
    change(sandbox, "7")
    status = sandbox.wait_status(lambda status: not status["saved"]["ok"])
    mark = len(sandbox.receiver.packets)
    kill(status["engine_pid"])
    sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"] and now["cue"] == "7")
    assert {level(packet) for packet in sandbox.receiver.since(mark)} == {round(0.15 * 65535)}
    card.mend()
    assert stored(card, "7")


def test_what_was_said_while_the_log_takes_nothing_is_there_after_an_end_that_was_confirmed(
    sandbox: Sandbox,
) -> None:
    card = RealCard(sandbox)
    try:
        card.lock()
        engine = sandbox.engine()
        sandbox.send("note", "the door was ajar")
        assert sandbox.run("stop", "--show", str(sandbox.show), "--fade", "0s").returncode == 0
        assert engine.wait(WAIT_S) == 0
        card.mend()
        sandbox.engine()
        deadline = time.monotonic() + WAIT_S
        while "note: the door was ajar" not in (said := sandbox.run("log", str(sandbox.show)).stdout):
            assert time.monotonic() < deadline, said
    finally:
        sandbox.close_processes()
        card.close()


class RealHome:
    """A tmpfs over the whole sandbox: show, engine's address, live state and logs on one disk."""

    def __init__(self, sandbox: Sandbox) -> None:
        needs_namespaces()
        self.sandbox = sandbox
        self.namespaces = Namespaces("mount")
        aside = sandbox.folder.with_name(f"{sandbox.folder.name}-aside")
        shutil.copytree(sandbox.folder, aside)
        self.namespaces.run(
            "mount", "-t", "tmpfs", "-o", f"size={4 * CARD_BYTES}", "tmpfs", str(sandbox.folder)
        )
        self.namespaces.run("cp", "-a", f"{aside}/.", str(sandbox.folder))
        sandbox.prefix, sandbox.seen = self.namespaces.prefix, self.namespaces.seen

    def fill(self) -> None:
        fill(self.namespaces.seen(self.sandbox.folder))

    def mend(self) -> None:
        (self.namespaces.seen(self.sandbox.folder) / "filler").unlink()


@pytest.fixture
def home(sandbox: Sandbox) -> Iterator[RealHome]:
    home = RealHome(sandbox)
    yield home
    sandbox.close_processes()
    home.namespaces.close()


def test_an_end_that_would_lose_what_was_said_asks_first(home: RealHome) -> None:
    sandbox = home.sandbox
    sandbox.engine()
    sandbox.tell(kind="note", text="the door was ajar")
    home.fill()
    for number in range(300):
        sandbox.tell(kind="note", text=f"{number} {'n' * 300}")
    sandbox.wait_status(lambda now: not now["logged"]["ok"])
    refused = sandbox.run("stop", "--show", str(sandbox.show))
    assert refused.returncode == 1 and "the log would lose entries (The disk is full" in refused.stderr
    home.mend()
    sandbox.wait_status(lambda now: now["logged"]["ok"])
    sandbox.tell(kind="note", text="there is room")
    assert sandbox.run("stop", "--show", str(sandbox.show), "--fade", "0s").returncode == 0
    said = sandbox.run("log", str(sandbox.show)).stdout
    assert all(f"note: {number} n" in said for number in range(300)) and "lost" not in said


def test_with_everything_on_one_full_disk_the_light_survives_even_the_death_of_the_engine(
    home: RealHome,
) -> None:
    sandbox = home.sandbox
    sandbox.engine()
    sandbox.tell(kind="recall", cue="1", fade_s=0.0)
    status = sandbox.wait_status(lambda status: status["cue"] == "1")
    home.fill()
    # What is kept for the next engine grows past the room it has.
    for number in range(200):
        piece = {"id": f"piece-{number}", "kind": "flag", "note": "n" * 2000}
        sandbox.tell(kind="put-set-piece", set_piece=piece)
    sandbox.tell(kind="set", fixtures=["window"], level=0.15)
    sandbox.wait_status(lambda now: not now["saved"]["ok"])
    sandbox.receiver.wait(lambda packet: level(packet) == round(0.15 * 65535))
    sandbox.wait_status()  # what follows from that frame has been done
    mark = len(sandbox.receiver.packets)
    kill(status["engine_pid"])
    # Its new address cannot be written while the disk is full, so nobody can attach; the light is back.
    first = sandbox.receiver.wait(lambda packet: True, mark)
    assert level(first) == round(0.15 * 65535)
    home.mend()
    after = sandbox.wait_status(lambda now: now["engine_pid"] != status["engine_pid"])
    assert after["lights"]["window"]["level"] == pytest.approx(0.15)
    assert {level(packet) for packet in sandbox.receiver.since(mark)} == {level(first)}
    deadline = time.monotonic() + WAIT_S
    while "window 15 %" not in (said := sandbox.run("log", str(sandbox.show)).stdout):
        assert time.monotonic() < deadline, said
    assert all(f"place piece-{number}\n" in said for number in range(200)) and "lost" not in said
