"""Asking Art-Net nodes who they are: a node on loopback answers, another address stays silent."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest

from onecrew.cli import main
from onecrew.network import artnet_poll
from onecrew.show.dump import dump_show
from onecrew.show.show import Artnet, ArtnetUniverse, Output, Show
from tests.wire.test_artnet import poll_reply


@pytest.fixture
def node(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """The address of a node that answers one question."""
    monkeypatch.setattr("onecrew.cli.nodes.poll", partial(artnet_poll.poll, listen=("127.0.0.1", 0)))
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.settimeout(5.0)
        sock.bind(("127.0.0.1", 0))

        def answer() -> None:
            _, asker = sock.recvfrom(2048)
            sock.sendto(poll_reply(), asker)

        answering = threading.Thread(target=answer)
        answering.start()
        yield f"127.0.0.1:{sock.getsockname()[1]}"
        answering.join()


def test_a_node_tells_what_it_is(node: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["nodes", node, "--for", "0.3s"]) == 0
    assert capsys.readouterr().out.startswith("127.0.0.1  ")


def test_the_nodes_of_a_show_are_asked(node: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = Output(artnet=Artnet(universes={"1": ArtnetUniverse(to=(node,))}))
    show = tmp_path / "show.json"
    show.write_text(dump_show(Show(name="Nodes", output=output)))
    assert main(["nodes", str(show), "--for", "0.3s", "--json"]) == 0
    [found] = json.loads(capsys.readouterr().out)["nodes"]
    assert (found["host"], found["short_name"]) == ("127.0.0.1", "oven")


def test_silence_is_said_and_fails(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("onecrew.cli.nodes.poll", partial(artnet_poll.poll, listen=("127.0.0.1", 0)))
    assert main(["nodes", "127.0.0.1:9", "--for", "0.05s"]) == 1
    assert "did not answer" in capsys.readouterr().out


@pytest.mark.parametrize("where", ["lamp.local", "255.255.255.255"])
def test_what_is_no_address_is_a_misuse(where: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["nodes", where]) == 2
    assert "name a show's file" in capsys.readouterr().err


def test_a_show_without_art_net_has_nobody_to_ask(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    show = tmp_path / "show.json"
    show.write_text(dump_show(Show(name="Plain")))
    assert main(["nodes", str(show)]) == 2
    assert "sends no Art-Net" in capsys.readouterr().err
