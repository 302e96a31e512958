"""``onecrew nodes``: which Art-Net nodes answer, and what they say of themselves."""

from __future__ import annotations

import argparse
import asyncio
from dataclasses import asdict
from pathlib import Path

from onecrew.cli.exits import DONE, FAILED
from onecrew.cli.parts import answer
from onecrew.errors import Misuse
from onecrew.language.reading import seconds
from onecrew.network.artnet_packets import Node
from onecrew.network.artnet_poll import poll
from onecrew.show.destination import ARTNET_PORT, parse_destination
from onecrew.show.load import load_show
from onecrew.show.profiles import load_profiles

LONGEST_S = 60.0


def run(arguments: argparse.Namespace) -> int:
    addresses = [address for text in arguments.where for address in asked_at(text)]
    wait_s = seconds(arguments.wait, "time", LONGEST_S)
    nodes = asyncio.run(poll(dict.fromkeys(addresses), answer_s=wait_s))
    silent = [host for host, _ in dict.fromkeys(addresses) if host not in {node.host for node in nodes}]
    quiet = [f"{host}  did not answer: is it on, on this network, and set to Art-Net?" for host in silent]
    facts = {"asked": [host for host, _ in addresses], "nodes": [asdict(node) for node in nodes]}
    answer(arguments, facts, [*map(told, nodes), *quiet])
    return DONE if nodes else FAILED


def asked_at(text: str) -> list[tuple[str, int]]:
    """The address in ``text``, or those of the show of this name; raises ``Misuse`` where it is neither."""
    if Path(text).is_file():
        artnet = load_show(Path(text), load_profiles(beside=Path(text))).output.artnet
        named = [to for universe in artnet.universes.values() for to in universe.to] if artnet else []
        if not named:
            raise Misuse(f"{text} sends no Art-Net: name the addresses to ask instead")
        return [parse_destination(to, ARTNET_PORT) for to in named]
    try:
        return [parse_destination(text, ARTNET_PORT)]
    except ValueError as error:
        raise Misuse(f"{error}; or name a show's file") from None


def told(node: Node) -> str:
    """One node in one line."""
    name = node.long_name or node.short_name or "no name"
    outputs = ", ".join(map(str, node.outputs)) or "none"
    state = f"  {node.report}" if node.report else ""
    return f"{node.host}  {name}  outputs port-address {outputs}{state}"
