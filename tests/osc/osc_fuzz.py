"""Random and mutated OSC packets, and what must hold whatever comes.

The suite runs some ten thousand of them. By hand, a million at the server, and as many as wanted at a running
engine of a show, over a socket::

    python -m tests.osc.osc_fuzz 1000000
"""

from __future__ import annotations

import argparse
import contextlib
import random
import struct
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import psutil

from onecrew.commands.table import parse_command
from onecrew.osc.addresses import methods
from onecrew.osc.arguments import Argument, Form
from onecrew.osc.packets import write_message
from onecrew.osc.server import OscServer
from tests.osc.osc_layout import messages_in
from tests.phone.shows import small_show

SIGNS = set("?*[]{}")
WALL = 1_700_000_000
"""The Unix time at which it all happens."""
SAMPLES: dict[Form, Any] = {
    Form.SWITCH: True,
    Form.NUMBER: 0.5,
    Form.WHOLE: 7,
    Form.TEXT: "Oven",
    Form.CUE: "2",
    Form.NAME: "window",
    Form.DOCUMENT: '{"number": "9"}',
    Form.COMMAND: "go",
}


def _sample(argument: Argument) -> Any:
    return argument.high if argument.form is Form.NUMBER and argument.high else SAMPLES[argument.form]


def seeds() -> list[bytes]:
    """One sound packet for each method, and some for everything else that the server knows."""
    plain = [
        write_message(
            method.address.replace("<lamp>", "tone").replace("<cue>", "2"), map(_sample, method.arguments)
        )
        for method in methods()
    ]
    plain += [
        write_message("/onecrew/light/*/level", (0.5,)),
        write_message("/onecrew/light/{tone,edge}/cc?", (2800.0, 2.0)),
        write_message("/onecrew/report", (9100, 10.0, 60.0)),
        write_message("/onecrew/report-end", ()),
        write_message("/" + "*" * 40 + "/" + "[a-z]" * 20, (1,)),
    ]
    soon = struct.pack(">Q", (WALL + 5 + 2208988800) << 32)
    bundles = [
        _bundle(bytes(7) + b"\1", plain[:5]),
        _bundle(soon, plain[5:9]),
        _bundle(b"\xff" * 8, plain[:2]),
    ]
    deep = plain[0]
    for _ in range(6):
        deep = _bundle(bytes(7) + b"\1", [deep])
    return [*plain, *bundles, deep]


def _bundle(tag: bytes, elements: list[bytes]) -> bytes:
    return b"#bundle\0" + tag + b"".join(struct.pack(">i", len(one)) + one for one in elements)


def packets(seed: int, count: int) -> Iterator[bytes]:
    """So many packets, the same for the same seed: a quarter random, the rest mutated from sound ones."""
    dice = random.Random(seed)
    sound = seeds()
    for number in range(count):
        if number % 4 == 0:
            yield dice.randbytes(dice.choice((0, 3, 4, 8, 16, 20, 64, 300)))
            continue
        data = bytearray(dice.choice(sound))
        for _ in range(dice.choice((1, 1, 1, 2, 4, 16))):
            _mutate(data, dice, sound)
        yield bytes(data[:4000])


def _mutate(data: bytearray, dice: random.Random, sound: list[bytes]) -> None:
    at = dice.randrange(len(data) + 1)
    match dice.randrange(8):
        case 0 if data:
            data[at % len(data)] ^= 1 << dice.randrange(8)
        case 1 if data:
            data[at % len(data)] = dice.choice((0, 0x7F, 0xFF, *b"/#,*?[]{}!ifsbTFN"))
        case 2:
            del data[at : at + dice.choice((1, 4, 8))]
        case 3:
            data[at:at] = dice.randbytes(dice.choice((1, 4)))
        case 4:
            data[at : at + 4] = struct.pack(">i", dice.choice((-1, 0, 1, 3, 4, 2**31 - 1, -(2**31))))
        case 5:
            data[at:at] = dice.choice(sound)
        case 6:
            data[at : at + 4] = dice.choice(
                (b"\x7f\xc0\0\0", b"\x7f\x80\0\0", b"\xff\x80\0\0")
            )  # NaN, ±infinity
        case _:
            del data[at:]


def could_be_a_command(packet: bytes) -> bool:
    """Whether a packet is sound by the specification and speaks to onecrew, by name or by a pattern."""
    heard = messages_in(packet)
    if heard is None:
        return False
    roots = [address.split("/")[1] for address, _ in heard]
    return any(root == "onecrew" or SIGNS & set(root) for root in roots)


@dataclass
class Findings:
    packets: int = 0
    commands: int = 0
    sound: int = 0
    bytes_answered: int = 0
    bytes_heard: int = 0
    kinds: set[str] = field(default_factory=set)


def at_the_door(seed: int, count: int) -> Findings:
    """Lets the packets in one by one and holds every promise against each; raises where one is broken."""
    found = Findings()
    carried: list[dict[str, Any]] = []

    def carry_out(raw: dict[str, Any]) -> None:
        parse_command(raw)  # refuses what is out of range
        carried.append(raw)

    state = {"/onecrew/state/cue": ("1", "")}
    server = OscServer(
        carry_out, contextlib.nullcontext, small_show, lambda now: state, own=("0.0.0.0", 9001)
    )
    sender = ("127.0.0.1", 50000)
    for number, packet in enumerate(packets(seed, count)):
        now = number * 0.001
        carried.clear()
        answers = server.receive(packet, sender, now, WALL + now)
        at_once = len(carried)
        answers += server.due(now)
        if not could_be_a_command(packet):
            assert at_once == 0, packet
        assert all(to[0] == sender[0] for _, to in answers)
        found.packets += 1
        found.commands += len(carried)
        found.kinds |= {command["kind"] for command in carried}
        found.sound += messages_in(packet) is not None
        found.bytes_heard += len(packet)
        found.bytes_answered += sum(len(data) for data, _ in answers)
    assert len(server._pending) <= 256
    assert len(server.reports) <= 16
    assert server.counts.heard == count
    return found


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("count", type=int, nargs="?", default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    process = psutil.Process()
    at_the_door(options.seed, 1000)
    before = process.memory_info().rss
    began = time.perf_counter()
    print(at_the_door(options.seed, options.count))
    grown = process.memory_info().rss - before
    print(f"{time.perf_counter() - began:.0f} s, memory grew by {grown / 2**20:.1f} MiB")


if __name__ == "__main__":
    main()
