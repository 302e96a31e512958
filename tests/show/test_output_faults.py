"""Destinations, universes and listeners that cannot work are reported at their place.

Universes 1–63999: ANSI E1.31-2018 §6.2.7. Art-Net port-addresses 0–32767 (15 bits): Art-Net 4, from memory.
"""

from __future__ import annotations

from typing import Any

import pytest

from onecrew.show.check import check_show
from onecrew.show.listener import parse_guest, parse_listener
from onecrew.show.show import Show
from tests.show.shows import PROFILES


def where(**parts: Any) -> list[str]:
    return [fault.where for fault in check_show(Show.model_validate({"name": "Out", **parts}), PROFILES)]


def sacn(*to: str, number: str = "1", **more: Any) -> dict[str, Any]:
    return {"sacn": {"universes": {number: {"to": to, **more}}}}


@pytest.mark.parametrize("to", ["127.0.0.1", "192.168.1.20:5569", "10.0.0.1:65535", "fe80::1"])
def test_a_unicast_address_with_or_without_a_port(to: str) -> None:
    assert where(output=sacn(to)) == []


@pytest.mark.parametrize(
    "to",
    ["", "lamp.local", "192.168.1", "192.168.1.256", "127.0.0.1:", "127.0.0.1:0", "127.0.0.1:65536",
     "127.0.0.1:5568x", "239.255.0.1", "255.255.255.255", "0.0.0.0", "127.0.0.1 127.0.0.2"],
)  # fmt: skip
def test_a_destination_that_no_single_receiver_has(to: str) -> None:
    assert where(output=sacn("127.0.0.1", to)) == ["output.sacn.universes.1.to[1]"]


def test_a_destination_listed_twice_would_get_every_packet_twice() -> None:
    assert where(output=sacn("127.0.0.1", "127.0.0.1:5568")) == ["output.sacn.universes.1.to[1]"]
    assert where(output=sacn("127.0.0.1", "127.0.0.1:5569")) == []


@pytest.mark.parametrize("number", ["64000", "99999"])
def test_a_universe_past_63999(number: str) -> None:
    assert where(output=sacn(number=number)) == [f"output.sacn.universes.{number}"]
    assert where(output=sacn(number="63999")) == []


def test_the_interface_is_an_address() -> None:
    assert where(output=sacn(interface="eth0")) == ["output.sacn.universes.1.interface"]
    assert where(output=sacn(interface="192.168.1.7")) == []


def artnet(**universes: Any) -> dict[str, Any]:
    return {"artnet": {"universes": {number.strip("u"): value for number, value in universes.items()}}}


def test_an_art_net_universe_needs_a_port_address_where_its_number_is_too_high() -> None:
    assert where(output=artnet(u32768={"to": ["10.0.0.1"]})) == []
    assert where(output=artnet(u32769={"to": ["10.0.0.1"]})) == ["output.artnet.universes.32769"]
    assert where(output=artnet(u32769={"to": ["10.0.0.1"], "port_address": 5})) == []


def test_two_art_net_universes_cannot_share_a_port_address_at_one_receiver() -> None:
    second = {"to": ["10.0.0.1"], "port_address": 0}
    assert where(output=artnet(u1={"to": ["10.0.0.1"]}, u2=second)) == [
        "output.artnet.universes.2.port_address"
    ]
    assert where(output=artnet(u1={"to": ["10.0.0.2"]}, u2=second)) == []


def test_remotes_listen_at_an_address_with_a_port() -> None:
    assert where(remote={"osc": {"listen": "0.0.0.0:9001", "allow": ["192.168.1.3", "fe80::2"]}}) == []
    assert where(remote={"osc": {"listen": "9001", "allow": ["phone"]}, "page": {"listen": "x:9080"}}) == [
        "remote.osc.listen",
        "remote.osc.allow[0]",
        "remote.page.listen",
    ]


def test_a_listener_is_address_and_port() -> None:
    assert parse_listener("127.0.0.1:9001") == ("127.0.0.1", 9001)
    assert parse_listener("[::1]:80") == ("::1", 80)
    assert parse_guest(" 10.0.0.3 ") == "10.0.0.3"


@pytest.mark.parametrize(
    "text", ["", ":", "127.0.0.1", "127.0.0.1:", "127.0.0.1:70000", "239.0.0.1:80", "a:1"]
)
def test_a_listener_that_cannot_be_is_told_with_a_mend(text: str) -> None:
    with pytest.raises(ValueError, match="; "):
        parse_listener(text)
