"""Rig: a full patch from the keyboard, overlaps refused with the reason, outputs and sources in words."""

from __future__ import annotations

from typing import Any

import pytest
from rich.cells import cell_len
from textual.widgets import Input

from onecrew.commands.camera import SetCamera
from onecrew.commands.light import Identify
from onecrew.commands.rig import PutFixture, RemoveFixture
from onecrew.commands.running import Blackout
from onecrew.commands.session import Redo, Undo
from onecrew.engine.client import Lost
from onecrew.errors import Refused
from onecrew.language import names
from onecrew.language.modifiers import read_modifiers, write_modifiers
from onecrew.language.places import read_place, write_place
from onecrew.show.show import Artnet, ArtnetUniverse, Fixture, Modifier, Place, Rig, Show
from onecrew.show.snapshot import OscState, OutputState, PageState, RemoteState
from onecrew.tui.rig import addresses, panes
from onecrew.tui.rig.typed import output_form
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import desk, drive

KINDS = addresses.kinds_of(ANSWERS["profiles"])


def client(show: Show | None = None, **state: Any) -> FakeClient:
    return FakeClient(show or bakery.show(), bakery.snapshot(**state), dict(ANSWERS))


def hears(answer: dict[str, Any]) -> FakeClient:
    """An engine that says this of the network."""
    return FakeClient(bakery.show(), bakery.snapshot(), {**ANSWERS, "sources": answer})


def fixture(name: str) -> Fixture:
    found = bakery.show().fixture(name)
    assert found is not None
    return found


@drive
async def test_a_lamp_is_found_by_typing_and_gets_the_address_offered() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"bico")
        assert any("Bicolour panel · 8-bit · 2 slots" in row for row in d.picture())
        await d.press("enter", *"glow", "tab", "b", "enter")
        (command,) = d.sent
        assert command == PutFixture(
            fixture=Fixture(
                id="glow", profile="panel-bicolour", mode="8-bit", universe=1, address=7, role="background"
            )
        )


def test_no_two_lamps_of_a_universe_share_a_letter_and_another_universe_begins_anew() -> None:
    lamps = [
        Fixture(id=f"l{at}", profile="dimmer", mode="8-bit", universe=1 + at % 2, address=1 + at, role="fill")
        for at in range(2 * len(panes.SIGNS) + 4)
    ]
    letters = panes.signs(lamps)
    assert letters[:4] == ["a", "a", "b", "b"]
    for universe in (0, 1):
        own = letters[universe::2]
        assert len(set(own[: len(panes.SIGNS)])) == len(panes.SIGNS) > 80
        assert own[len(panes.SIGNS) :] == ["#", "#"]
    assert all(cell_len(one) == 1 for one in panes.SIGNS)


@drive
async def test_six_lamps_without_leaving_the_keyboard() -> None:
    """From an empty rig; every lamp gets the address after the one before."""
    fake = client(Show(name="New"), lights={})
    async with desk(fake, mode="rig") as d:
        for _ in range(6):
            await d.press("a", *"pan", "enter", "enter")
            fixtures = tuple(command.fixture for command in d.sent)
            await d.tell(Show(name="New", rig=Rig(fixtures=fixtures)))
        assert [(lamp.id, lamp.address) for lamp in fixtures] == [
            (f"panel{i}", 6 * i - 5) for i in range(1, 7)
        ]
        assert [lamp.role for lamp in fixtures[:5]] == ["ambience", "key", "practical", "edge", "fill"]


@drive
async def test_an_overlap_is_refused_with_the_reason_and_the_free_address() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"pan", "enter", "tab", "tab", "tab", *"21", "enter")
        assert d.sent == []
        assert any("21–26 overlaps oven, which has 21–60; 61 is free" in row for row in d.picture())
        await d.press("backspace", "backspace", *"510", "enter")
        assert d.sent == []
        assert any("510–515 runs past 512: the last place for 6 slots is 507" in row for row in d.picture())


@drive
async def test_another_universe_offers_its_own_address() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"pan", "enter", "tab", "tab", "2", "enter")
        assert (d.sent[0].fixture.universe, d.sent[0].fixture.address) == (2, 1)


@drive
@pytest.mark.parametrize("typed", ["²", "0", "64000", "9" * 5000])
async def test_a_universe_that_is_none_is_refused_while_it_is_typed(typed: str) -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"pan", "enter", "tab", "tab")
        d.app.screen.query_one("#field-2", Input).value = typed
        await d.press("enter")
        assert d.sent == []
        assert any("✗ universe" in row for row in d.picture())


@drive
async def test_a_name_that_is_taken_is_refused() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("a", *"pan", "enter", *"hood", "enter")
        assert d.sent == []
        assert any("hood is taken" in row for row in d.picture())


@pytest.mark.parametrize(
    ("keys", "change"),
    [
        (["enter", *"edge", "enter"], {"role": "edge"}),
        (["e", "tab", "tab", *"200", "enter"], {"address": 200}),
        (["e", "tab", "tab", "tab", *"8-bit", "enter"], {"mode": "8-bit"}),
        (["e", *["tab"] * 4, *"best-rendition", "enter"], {"mixing": "best-rendition"}),
        (["e", *["tab"] * 5, "y", "enter"], {"even": True}),
        (["e", *["tab"] * 10, "y", "enter"], {"sharing": True}),
        (["e", *["tab"] * 8, *"left", "enter"], {"note": "left"}),
        (
            ["e", *["tab"] * 6, *["backspace"] * 20, *"gel", "space", *"0.5", "space", *"straw", "enter"],
            {"modifiers": (Modifier(kind="gel", stops=0.5, note="straw"),)},
        ),
        (["e", *["tab"] * 6, "backspace", "enter"], {"modifiers": ()}),
        (
            ["e", *["tab"] * 7, *"1", "space", *"2", "space", *"1.5", "space", *"90", "enter"],
            {"place": Place(x_m=1, y_m=2, height_m=1.5, aim_deg=90)},
        ),
        (["e", *["tab"] * 7, "backspace", "enter"], {"place": None}),
    ],
)
@drive
async def test_a_lamp_is_changed(keys: list[str], change: dict[str, Any]) -> None:
    async with desk(client(), mode="rig") as d:
        await d.press(*keys)
        assert d.sent == [PutFixture(fixture=fixture("hood").model_copy(update=change))]


@pytest.mark.parametrize(
    ("keys", "command"),
    [
        (["i"], Identify(fixtures=("hood",))),
        (["x", "y"], RemoveFixture(id="hood")),
        (["down", "down", "down", "x"], RemoveFixture(id="street")),
        (["u"], Undo()),
        (["U"], Redo()),
        (["b"], Blackout()),
        (["full_stop"], Blackout()),
    ],
)
@drive
async def test_other_keys(keys: list[str], command: Any) -> None:
    async with desk(client(), mode="rig") as d:
        await d.press(*keys)
        assert d.sent == [command]


@drive
async def test_identify_ends_with_the_same_key() -> None:
    async with desk(client(identify=("hood",)), mode="rig") as d:
        await d.press("i")
        assert d.sent == [Identify()]


@drive
async def test_deleting_a_lamp_that_cues_use_asks_first() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("x")
        assert "It is in cue 2, 3, 5." in d.page()
        await d.press("escape")
        assert d.sent == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [("300.1.1.1", "is not an IP address"), ("node", "not an IP address"), ("192.0.2.5:0", "no usable port"),
     ("239.255.0.1", "multicast address"), ("255.255.255.255", "broadcast address")],
)  # fmt: skip
@drive
async def test_an_address_that_cannot_be_sent_to_is_refused_in_the_form(typed: str, said: str) -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("p", *typed, "enter")
        assert said in d.page() and "✓ ready" not in d.page() and d.sent == []


@drive
async def test_where_a_universe_goes() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("p", *"192.0.2.5", "space", *"192.0.2.6:5569", "enter")
        (command,) = d.sent
        assert command.output.sacn.universes["1"].to == ("192.0.2.5", "192.0.2.6:5569")


@drive
async def test_priority_and_steady_rate() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("p", "tab", *"150", "tab", "y", "enter")
        sacn = d.sent[0].output.sacn
        assert (sacn.priority, sacn.steady) == (150, True)
        assert sacn.universes["1"].to == ("127.0.0.1",), "the destinations stay"


@drive
async def test_a_node_that_takes_art_net_beside_sacn_and_instead_of_it() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("p", *["tab"] * 4, *"192.0.2.60", "tab", "3", "tab", "y", "enter")
        output = d.sent[0].output
        assert output.sacn == bakery.show().output.sacn, "sACN stays as it is"
        assert output.artnet == Artnet(
            sync=True, universes={"1": ArtnetUniverse(to=("192.0.2.60",), port_address=3)}
        )
        assert "Universe 1 is sent to 127.0.0.1 and to 192.0.2.60 by Art-Net." in d.page()
        await d.tell(bakery.show().model_copy(update={"output": output}))
        await d.press("p", *"off", "enter")
        alone = d.sent[1].output
        assert alone.sacn.universes == {} and alone.artnet == output.artnet
        await d.tell(bakery.show().model_copy(update={"output": alone}))
        await d.press("p")
        assert "sent to off" in d.page() and "192.0.2.60" in d.page()
        await d.press(*["tab"] * 4, "backspace", "enter")
        assert "without sACN the universe needs an address for Art-Net" in d.page()
        assert len(d.sent) == 2, "nothing is sent that would leave the lamps alone"
        await d.press(*["shift+tab"] * 4, "backspace", "enter")
        assert d.sent[2].output.artnet is None
        assert d.sent[2].output.sacn.universes["1"].to == (), "multicast"


@drive
async def test_the_camera() -> None:
    async with desk(client(), mode="rig") as d:
        await d.press("C", *["tab"] * 4, *"3200", "enter")
        assert d.sent == [
            SetCamera(camera=bakery.show().camera.model_copy(update={"white_balance_k": 3200.0}))
        ]


@drive
async def test_a_refusal_by_the_engine_is_said() -> None:
    async with desk(client(), mode="rig") as d:
        d.client.refusal = Refused("the profile spot-six has no mode 8-bit; it has 16-bit")
        await d.press("e", *"edge", "enter")
        assert "✗ the profile spot-six has no mode 8-bit" in d.text()


@pytest.mark.parametrize(
    ("above", "said"),
    [
        (10, "! in control: higher priority"),
        (0, "! conflicts: same universe"),
        (-10, "stands by: lower priority"),
    ],
)
@drive
async def test_what_another_source_of_the_same_universe_does_hangs_on_its_priority(
    above: int, said: str
) -> None:
    """E1.31-2018 §6.2.3: receivers take the highest priority, and nothing of a lower one beside it."""
    priority = bakery.show().output.sacn.priority + above
    other = {"name": "other", "address": "192.0.2.7", "universe": 1, "priority": priority, "ours": False}
    heard = {"listening": True, "note": "", "nodes_note": "", "sources": [{**other, "protocol": "sacn"}]}
    async with desk(hears(heard), mode="rig", size=(140, 45)) as d:
        assert said in d.text()


@drive
async def test_art_net_nodes_and_who_else_sends_art_net_stand_beside_the_sources() -> None:
    """Port-address 0 is universe 1 where the show does not say otherwise: there a stranger conflicts."""
    artnet = Artnet(universes={"1": ArtnetUniverse(to=("192.0.2.60",))})
    show = bakery.show()
    show = show.model_copy(update={"output": show.output.model_copy(update={"artnet": artnet})})
    stranger = {"name": "Art-Net", "address": "192.0.2.7", "universe": 0, "priority": 0, "ours": False}
    heard = {
        "listening": True, "note": "", "nodes_note": "",
        "sources": [{**stranger, "protocol": "artnet"}],
        "nodes": [{"name": "wall box", "address": "192.0.2.60", "outputs": [0, 1]}],
    }  # fmt: skip
    async with desk(hears(heard), mode="rig", size=(140, 45)) as d:
        await d.tell(show)
        text = d.text()
        assert "Art-Net 192.0.2.7 · port-address 0 ! conflicts: same universe" in text
        assert "node wall box 192.0.2.60 · port-address 0, 1" in text
    silent = {**heard, "sources": [], "nodes": [], "nodes_note": "UDP port 6454 is in use"}
    async with desk(hears(silent), mode="rig", size=(140, 45)) as d:
        assert "Art-Net nodes: UDP port 6454 is in use" in d.text()
    async with desk(hears({**silent, "nodes_note": ""}), mode="rig", size=(140, 45)) as d:
        assert "no Art-Net node answers where this show is sent" in d.text()


def test_a_port_address_that_is_typed_without_an_address_for_art_net_is_refused() -> None:
    node = ArtnetUniverse(to=("192.0.2.60",), port_address=7)
    output = bakery.show().output.model_copy(update={"artnet": Artnet(universes={"1": node})})
    for form in (output_form(output, 1), output_form(bakery.show().output, 1)):
        with pytest.raises(ValueError, match="a port-address needs the address of a node"):
            form.read({**form.fields, "Art-Net to": "", "port-address": "8"})
        assert form.read({**form.fields, "Art-Net to": ""}).artnet is None


@pytest.mark.parametrize("size", [(60, 16), (80, 24), (140, 45), (200, 60)])
@drive
async def test_patch_map_outputs_and_sources(size: tuple[int, int]) -> None:
    failing = OutputState(universe=1, to="192.0.2.7", state="failing", sent=9, errors=4, error="no route")
    async with desk(client(outputs=(failing,)), mode="rig", size=size) as d:
        text = d.text()
        said = [
            "hood",
            "1–6",
            "11–15",
            "UNIVERSE 1",
            "73 of 512 slots taken",
            "aaaaaa",
            "bbbbb",
            "512 free",
        ]
        said += ["universe 1 → 192.0.2.7 sacn  failing, 9 sent"]
        if size[0] >= 80:
            said += [
                "panel-cct-tint 16-bit",
                "! in control: higher priority",
                "4 errors: no route",
                "set its menu to mode",
            ]
        for word in said:
            assert word in text, f"{word} at {size}"


@drive
async def test_the_small_plan_leaves_room_for_what_the_network_says() -> None:
    failing = OutputState(universe=1, to="192.0.2.7", state="failing", sent=9, errors=4, error="no route")
    outputs = tuple(failing.model_copy(update={"to": f"192.0.2.{n}"}) for n in range(5))
    why = "192.0.2.40 is no address of this computer, which has 192.0.2.1 and 192.0.2.2 on this network"
    remote = RemoteState(osc=OscState(error=f"OSC: {why}"), page=PageState(error=f"the page: {why}"))
    async with desk(client(outputs=outputs, remote=remote), mode="rig", size=(140, 45)) as d:
        page = " ".join(row[74:] for row in d.text().splitlines())
        assert f"OSC: {why}" in " ".join(page.split()) and f"the page: {why}" in " ".join(page.split())
        assert "●← oven" in d.text()
        crowd = [failing.model_copy(update={"to": f"192.0.2.{n}"}) for n in range(20)]
        await d.change(outputs=tuple(crowd))
        assert "192.0.2.9" in d.text() and "●← oven" not in d.text()


@drive
async def test_the_form_of_a_lamp_fits_80_by_24_and_says_what_each_field_takes() -> None:
    async with desk(client(), mode="rig", size=(80, 24)) as d:
        await d.press("enter")
        text = "\n".join(d.picture())
        for said in ("role   ", "segments share", "Tab next line", "Roles, by their first letters"):
            assert said in text
        await d.press("up")
        text = "\n".join(d.picture())
        assert "yes: finer in the dark" in text and "Tab next line" in text and "Roles" not in text


@drive
async def test_what_a_source_means_for_this_show_is_never_cut_where_the_line_is_short() -> None:
    fake = client()
    source = {"name": "A desk with a long name", "address": "192.0.2.99", "universe": 1, "priority": 150}
    fake.answers["sources"] = {"listening": True, "note": "", "sources": [source]}
    async with desk(fake, mode="rig", size=(80, 24)) as d:
        text = " ".join(d.text().split())
        assert (
            "! in control: higher priority: A desk with a long name 192.0.2.99 · universe 1 priority 150"
            in text
        )


@drive
async def test_a_profile_file_that_cannot_be_used_says_why_where_it_is_searched_for() -> None:
    fake = client()
    why = "my-panel.toml: modes[0]: mode mode-3 has more than one cct channel; keep one"
    fake.answers["profiles"] = {**ANSWERS["profiles"], "broken": {"my-panel": why, "other": "another fault"}}
    async with desk(fake, mode="rig") as d:
        await d.press("a", *"my-p")
        text = " ".join(" ".join(row.strip("│ ") for row in d.picture()).split())
        assert "more than one cct channel" in text and "another fault" not in text


@drive
async def test_modes_of_a_lamp_with_a_long_name_can_be_told_apart() -> None:
    modes = [{"name": "narrow", "width": 3}, {"name": "wide", "width": 12}]
    lamp = {"id": "long", "name": "Lamp of a very long name " * 3, "modes": modes}
    answers = {**ANSWERS, "profiles": {"profiles": [lamp]}}
    async with desk(FakeClient(bakery.show(), bakery.snapshot(), answers), mode="rig", size=(80, 24)) as d:
        await d.press("a", *"long")
        assert "… · narrow · 3 slots" in d.page() and "… · wide · 12 slots" in d.page()


@drive
async def test_a_profile_that_was_written_meanwhile_is_offered() -> None:
    fake = client()
    known = ANSWERS["profiles"]
    async with desk(fake, mode="rig") as d:
        mine = {**known["profiles"][0], "id": "mine", "name": "My own panel"}
        fake.answers["profiles"] = {**known, "profiles": [*known["profiles"], mine]}
        await d.press("a", *"my own")
        assert any("My own panel" in row for row in d.picture())
        assert ("profiles", {"again": True}) in fake.asked


@drive
async def test_an_empty_rig_says_what_to_do() -> None:
    async with desk(client(Show(name="New"), lights={}, outputs=()), mode="rig") as d:
        assert "No lamps yet: a adds the first." in d.text()
        await d.press("x", "e", "i", "up")
        assert d.sent == []


@drive
async def test_not_listening_says_why() -> None:
    fake = client()
    fake.answers["sources"] = {
        "listening": False,
        "note": "port 5568 is taken by another program",
        "sources": [],
    }
    async with desk(fake, mode="rig") as d:
        assert "port 5568 is taken by another program" in d.text()


@pytest.mark.parametrize("width", [1, 3, 6, 40, 400, 512])
def test_the_free_address_really_is_free(width: int) -> None:
    fixtures = bakery.show().rig.fixtures
    free = addresses.free_from(fixtures, KINDS, 1, width)
    if free is not None:
        assert addresses.fault(fixtures, KINDS, 1, free, width) == ""
        assert free == 1 or any(
            addresses.fault(fixtures, KINDS, 1, earlier, width) for earlier in range(1, free)
        )
    else:
        assert all(addresses.fault(fixtures, KINDS, 1, at, width) for at in range(1, 513))


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (names.role, ""),
        (names.role, "e"),
        (names.fixture_id, "Größe"),
        (names.fixture_id, ""),
        (read_modifiers, "smoke 1"),
        (read_modifiers, "gel 99"),
        (read_place, "1"),
        (read_place, "1 x"),
        (read_place, "1 2 3 400"),
        (read_place, "nan 1"),
    ],
)
def test_nonsense_is_refused_with_a_sentence(read: Any, text: str) -> None:
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        read(text)


@pytest.mark.parametrize(
    "text", ["diffusion 1, grid", "gel 0.5 straw", "softbox 1 0.6x0.6 ahead 0.3, grid 0.5 beam 40 egg", ""]
)
def test_modifiers_read_back_as_they_were_written(text: str) -> None:
    assert write_modifiers(read_modifiers(text)) == text


@pytest.mark.parametrize("text", ["0.6 3.4 2.1 135", "1 2", "1 2 0.5", "1 2 - - -10 90"])
def test_places_read_back_as_they_were_written(text: str) -> None:
    assert write_place(read_place(text), " ") == text


@drive
async def test_the_camera_notes_are_a_form() -> None:
    show = bakery.show()
    async with desk(mode="rig") as d:
        await d.press("C", "tab", *"172.8deg", *["tab"] * 4, *"2.95", "tab", "2", "enter")
        [sent] = d.sent
        assert isinstance(sent, SetCamera)
        fields = {"shutter_deg": 172.8, "t_stop": 2.95, "nd_stops": 2.0}
        assert sent.camera == show.camera.model_copy(update=fields)


@drive
async def test_a_lamp_changed_on_rig_keeps_its_tilt_and_the_size_of_its_softbox() -> None:
    box = Modifier(kind="softbox", stops=1, width_m=0.6, height_m=0.6)
    place = Place(x_m=1, y_m=2, height_m=2, aim_deg=90, tilt_deg=-20, roll_deg=90)
    show = bakery.show()
    lamp = show.rig.fixtures[0].model_copy(update={"place": place, "modifiers": (box,)})
    show = show.model_copy(update={"rig": show.rig.model_copy(update={"fixtures": (lamp,)})})
    async with desk(FakeClient(show, bakery.snapshot()), mode="rig") as d:
        await d.press("enter", *["tab"] * 9, *"1.2kHz", "enter")
        assert d.sent == [PutFixture(fixture=lamp.model_copy(update={"pwm_hz": 1200.0}))]


@pytest.mark.parametrize("size", [(40, 12), (60, 16), (80, 24)])
@pytest.mark.parametrize(("mode", "keys"), [("rig", "p"), ("plan", "a"), ("shoot", "D")])
@drive
async def test_the_fault_of_a_line_that_is_refused_is_seen_in_a_low_window(
    mode: str, keys: str, size: tuple[int, int]
) -> None:
    async with desk(client(), mode=mode, size=size) as d:
        await d.press(keys, *"nonsense", "enter")
        await d.until(lambda: "✗" in d.page())


@drive
async def test_without_an_engine_nothing_is_said_of_what_is_sent() -> None:
    async with desk(mode="rig") as d:
        await d.change(outputs=())  # the last state of an engine that was stopped
        assert "none yet: a universe is sent once it has a lamp" in d.text()
        await d.tell(Lost("the engine was stopped, the lights are out", stopped=True))
        assert "none yet" not in d.text()
