"""What the channels of a mode are, in words."""

from __future__ import annotations

from collections.abc import Sized

from onecrew.show.profile_channel import Channel
from onecrew.show.profile_mode import Mode


def channel_name(channel: Channel) -> str:
    """What a channel is, in a word or two: ``red``, ``cct``, ``white dimmer``."""
    if channel.emitter is not None:
        return channel.emitter
    if channel.filter is not None:
        return f"{channel.filter} filter"
    if channel.part is not None:
        return f"{channel.part} dimmer"
    return channel.kind


def channel_words(channel: Channel) -> str:
    """What a channel does and over which range: ``colour temperature 2700 to 6500 K``."""
    steps = ""
    if channel.cct is not None:
        (_, first_k), *_, (_, last_k) = channel.cct.points
        words = f"colour temperature {first_k:g} to {last_k:g} K"
        steps = _in_steps(channel.cct.steps)
    elif channel.tint is not None:
        tint = channel.tint
        words = f"tint {tint.points[0][1]:+g} to {tint.points[-1][1]:+g} Duv"
        if not isinstance(tint.steps, tuple):
            words += f", neutral at {100 * tint.neutral:g} %"
        steps = _in_steps(tint.steps)
    elif channel.hue is not None:
        words = f"hue {channel.hue.low_deg:g} to {channel.hue.high_deg:g}°"
    elif channel.saturation is not None:
        words = f"saturation {100 * channel.saturation.low:g} to {100 * channel.saturation.high:g} %"
    elif (coordinate := channel.x or channel.y) is not None:
        words = f"{channel.kind} {coordinate.low:g} to {coordinate.high:g}"
    elif channel.crossfade is not None:
        whites_first = channel.crossfade.white < channel.crossfade.colour
        words = "crossfade, " + ("white to colour" if whites_first else "colour to white")
    elif channel.fixed is not None:
        meant = next((m for low, high, m in channel.ranges if low <= channel.fixed <= high), "")
        words = f"always {channel.fixed}" + (f" ({meant})" if meant else "")
    else:
        words = channel_name(channel)
    if channel.inverted:
        words += ", inverted"
    if channel.lowest_level is not None:
        words += f", {100 * channel.lowest_level:g} % at its lowest"
    if channel.off is not None:
        words += f", off at {channel.off}"
    used = channel.lowest is not None or channel.highest is not None
    return words + steps + (f", from {channel.first} to {channel.last}" if used else "")


def _in_steps(steps: int | Sized | None) -> str:
    if steps is None:
        return ""
    return f" in {steps if isinstance(steps, int) else len(steps)} steps"


def slot_blocks(mode: Mode) -> tuple[list[tuple[str, int]], int]:
    """(what it is, how many slots it takes) in slot order, and how often these blocks repeat.

    Slots that no channel has are named ``unused``; a channel whose slots are apart has a block for each.
    """
    plain = not any(channel.told_places or channel.once for channel in mode.channels)
    if plain:
        return [(channel_name(channel), channel.width) for channel in mode.channels], mode.segments
    named: dict[int, str] = {}
    for channel, places in zip(mode.channels, mode.places, strict=True):
        for number, place in enumerate(places, start=1):
            word = channel_name(channel) if len(places) == 1 else f"{channel_name(channel)} {number}"
            adjacent = place == tuple(range(place[0], place[0] + len(place)))
            for part, slot in enumerate(place):
                named[slot] = word if adjacent else f"{word} byte {part + 1}"
    blocks: list[tuple[str, int]] = []
    for slot in range(1, mode.width + 1):
        word = named.get(slot, "unused")
        if blocks and blocks[-1][0] == word:
            blocks[-1] = (word, blocks[-1][1] + 1)
        else:
            blocks.append((word, 1))
    return blocks, 1
