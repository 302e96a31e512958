"""Where to look when a lamp does not pulse: by the protocols that its universe is sent by."""

from __future__ import annotations

from onecrew.language.who import dark_words, unlit_hints
from onecrew.show.show import Fixture, Output

LAMP = Fixture(id="door", profile="spot-daylight", mode="8-bit", universe=2, address=5, role="key")


def output(**told: object) -> Output:
    return Output.model_validate(told)


def test_a_universe_that_is_not_listed_goes_out_by_multicast() -> None:
    assert "set to sACN, mode 8-bit, universe 2, address 5" in dark_words(LAMP, output())
    assert "multicast" in dark_words(LAMP, output())


def test_a_universe_by_art_net_alone_is_no_sacn() -> None:
    by_artnet = output(artnet={"universes": {"2": {"to": ["192.168.1.60"]}}})
    said = dark_words(LAMP, by_artnet)
    assert "set to Art-Net, " in said and "sACN" not in said and "multicast" not in said
    assert "sent to 192.168.1.60" in said


def test_both_protocols_are_named() -> None:
    both = output(
        sacn={"universes": {"2": {"to": ["192.168.1.50"]}}},
        artnet={"universes": {"2": {"to": ["192.168.1.60"]}}},
    )
    assert "set to sACN or Art-Net" in dark_words(LAMP, both)
    assert len(unlit_hints([2, 2, 3], both)) == 3
