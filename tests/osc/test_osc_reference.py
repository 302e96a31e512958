"""The page of reference says what there is: nothing missing, nothing made up."""

from __future__ import annotations

from onecrew.engine.desk import Desk
from onecrew.engine.state import state_of
from onecrew.osc.addresses import methods
from onecrew.osc.endpoint import reported
from onecrew.osc.packets import read_message, write_message
from onecrew.osc.reference import REPORTED, page, table
from onecrew.show.profiles import load_profiles
from tests.phone.shows import small_show

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
    state = reported(state_of(desk, 0.0))
    promised = {f"/onecrew/state/{where}": tags for where, tags, _ in REPORTED}
    for address, arguments in state.items():
        known = "/onecrew/state/light/<lamp>/level" if "/light/" in address else address
        assert " ".join(TAG_OF[type(value)] for value in arguments) == promised[known]
        assert read_message(write_message(address, arguments)).address == address
    lamps = {address for address in state if "/light/" in address}
    assert lamps == {f"/onecrew/state/light/{fixture.id}/level" for fixture in desk.show.rig.fixtures}
    assert len(state) == len(REPORTED) - 1 + len(lamps)
