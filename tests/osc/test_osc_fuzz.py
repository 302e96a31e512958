"""Twenty thousand random and mutated OSC packets at the server: nothing fails and nothing unsound acts."""

from __future__ import annotations

from tests.osc.osc_fuzz import at_the_door, could_be_a_command, seeds


def test_nothing_that_comes_breaks_a_promise() -> None:
    found = at_the_door(seed=20, count=20_000)
    # The packets are worth something: many are sound, and some are still commands.
    assert found.sound > 1000
    assert found.commands > 300
    assert len(found.kinds) > 15
    assert found.bytes_answered < found.bytes_heard


def test_the_seeds_are_sound_by_the_specification() -> None:
    assert all(could_be_a_command(seed) for seed in seeds())
