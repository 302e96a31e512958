"""The page of reference says what there is: nothing missing, nothing made up."""

from __future__ import annotations

from onecrew.commands.table import parse_command
from onecrew.engine.desk import Desk
from onecrew.engine.state import state_of
from onecrew.manual import page as manual_page
from onecrew.osc.addresses import CUE, LAMP, commands_of, find, methods
from onecrew.osc.faders import scale_of
from onecrew.osc.packets import read_message, write_message
from onecrew.osc.reference import CONTROLS, REPORTED, page, table
from onecrew.osc.transport import feedback, reported
from onecrew.show.profiles import load_profiles
from tests.phone.shows import small_show

SILENT = ("go", "back")
"""Controls that have no state to send back."""


def controls_table() -> str:
    """The controls as a table in Markdown, to copy from."""
    rows = [
        f"| `/onecrew/{where}` | {control} | {span} | {does} |" for where, control, span, does in CONTROLS
    ]
    return "\n".join(["| address, both ways | control | range | what it does |", "|---|---|---|---|", *rows])


TAG_OF = {float: "f", int: "i", str: "s"}


def test_every_address_is_on_the_page() -> None:
    text = page()
    for method in methods():
        assert f"\n{method.address}" in text
    for word in ("report", "report-end", "refused"):
        assert f"/onecrew/{word}" in text
    assert max(map(len, text.splitlines())) <= 110


def test_the_ranges_are_those_of_the_commands() -> None:
    master = next(row for row in table()["send"] if row["address"] == "/onecrew/master")
    assert master["arguments"] == [
        {
            "name": "level",
            "types": "f/i",
            "optional": False,
            "low": 0.0,
            "high": 1.0,
            "what": "a number from 0 to 1",
        }
    ]


def test_what_is_reported_is_what_the_page_says() -> None:
    desk = Desk(small_show(), load_profiles(), 0.0)
    state = {where: said for where, said in reported(state_of(desk, 0.0)).items() if "/state/" in where}
    promised = {f"/onecrew/state/{where}": tags for where, tags, _ in REPORTED}
    for address, arguments in state.items():
        known = "/onecrew/state/light/<lamp>/level" if "/light/" in address else address
        assert " ".join(TAG_OF[type(value)] for value in arguments) == promised[known]
        assert read_message(write_message(address, arguments)).address == address
    lamps = {address for address in state if "/light/" in address}
    assert lamps == {f"/onecrew/state/light/{fixture.id}/level" for fixture in desk.show.rig.fixtures}
    assert len(state) == len(REPORTED) - 1 + len(lamps)


def test_every_control_takes_back_what_it_reports() -> None:
    """The very address that moves something says where it stands, and the value is one that it takes."""
    show = small_show()
    desk = Desk(show, load_profiles(), 0.0)
    state = state_of(desk, 0.0)
    told = feedback(state)
    scale = scale_of(state.modes[0])
    for address, values in told.items():
        [command] = commands_of(find(address, show), values, show, lambda _: scale) or [{"kind": "go"}]
        parse_command(command)
        assert len(values) == 1 and isinstance(values[0], float)
    parts = {address.replace("/window/", f"/{LAMP}/").replace("/cue/2.5", f"/cue/{CUE}") for address in told}
    listed = {f"/onecrew/{where}" for where, *_ in CONTROLS}
    assert listed - parts == {f"/onecrew/{where}" for where in SILENT}
    assert all(address in parts for address in listed if address.rpartition("/")[2] not in SILENT)


def test_the_manual_has_the_table_of_controls() -> None:
    assert controls_table() in manual_page("osc")
