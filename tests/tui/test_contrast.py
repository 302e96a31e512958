"""Dark set and bright room: every text stands out, swatches stay true, banners are as loud.

WCAG 2.1, success criterion 1.4.3 (level AA): text has a contrast of at least 4.5 : 1 against its ground. What
is measured are the cells as they leave for the terminal. What lies behind an open dialog is left out
(1.4.3, inactive components), and so are drawings: blocks, shades, dots, lines.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from rich.segment import Segment
from rich.style import Style

from onecrew.show.snapshot import CountdownState, OutputState
from onecrew.tui import theme
from onecrew.tui.app import OnecrewApp
from onecrew.tui.base import Banner
from tests.fakes import bakery
from tests.fakes.answers import ANSWERS
from tests.fakes.engine_client import FakeClient
from tests.tui.driving import Desk, desk, drive

LEAST = 4.5
THEMES = pytest.mark.parametrize("name", theme.NAMES)
LOUD = {
    "solo": ("street",),
    "blackout": True,
    "locked": True,
    "countdown": CountdownState(left_s=4.0, command="go"),
    "outputs": (
        OutputState(universe=1, to="192.0.2.7", state="failing", sent=9, errors=4, error="no route"),
    ),
}
DIALOGS: dict[str, tuple[str, list[str]]] = {
    "help": ("shoot", ["f1"]),
    "choose": ("shoot", ["q"]),
    "ask": ("shoot", ["n"]),
    "ask, refused": ("plan", ["j", *"nonsense", "enter"]),
    "listing": ("light", ["number_sign"]),
    "form": ("light", ["e"]),
    "profile": ("rig", ["a"]),
    "no profile": ("rig", ["a", *"zzzz"]),
    "palette": ("shoot", ["ctrl+p"]),
    "palette, searched": ("shoot", ["ctrl+p", *"undo"]),
    "entry": ("light", ["2", "2"]),
}


def luminance(red: int, green: int, blue: int) -> float:
    """Relative luminance of an sRGB colour, WCAG 2.1's definition with the threshold of IEC 61966-2-1."""
    linear = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (red / 255, green / 255, blue / 255)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(style: Style) -> float:
    """The contrast ratio of WCAG 2.1: (L1 + 0.05) / (L2 + 0.05)."""
    assert style.color is not None and style.bgcolor is not None
    ink, paper = style.color.get_truecolor(), style.bgcolor.get_truecolor(foreground=False)
    if style.reverse:
        ink, paper = paper, ink
    bright, dark = sorted((luminance(*ink), luminance(*paper)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def test_the_ratio_of_black_on_white_is_21() -> None:
    """WCAG 2.1: ratios reach from 1 to 21. #767676 on white is the grey that just passes (4.54)."""
    assert contrast(Style(color="#000000", bgcolor="#ffffff")) == pytest.approx(21.0)
    assert contrast(Style(color="#ffffff", bgcolor="#ffffff")) == pytest.approx(1.0)
    assert contrast(Style(color="#767676", bgcolor="#ffffff")) == pytest.approx(4.54, abs=0.005)


def texts(d: Desk) -> Iterator[Segment]:
    """The segments with letters or digits on the screen, or on the dialog that lies over it."""
    screen = d.app.screen
    strips = screen._compositor.render_strips()
    if screen is not d.app.base_screen:
        regions = [widget.region for widget in screen.query("*") if widget.visible and widget.region.area]
        strips = [
            strip.crop(region.x, region.right)
            for region in regions
            for strip in strips[region.y : region.bottom]
        ]
    for strip in strips:
        for segment in strip:
            if any(sign.isalnum() for sign in segment.text):
                yield segment


async def measured(d: Desk, name: str) -> int:
    if name == theme.BRIGHT:
        d.app.turn_theme()
        await d.settle()
    count = 0
    for segment in texts(d):
        assert segment.style is not None
        ratio = contrast(segment.style)
        assert ratio >= LEAST, f"{segment.text!r} has {ratio:.2f} : 1, {segment.style}"
        count += 1
    return count


def client(**state: object) -> FakeClient:
    return FakeClient(bakery.show(), bakery.snapshot(**state), dict(ANSWERS))


@THEMES
@pytest.mark.parametrize("state", [{}, LOUD], ids=["calm", "loud"])
@pytest.mark.parametrize("mode", list(OnecrewApp.MODES))
@drive
async def test_every_text_of_a_screen_stands_out(mode: str, state: dict[str, object], name: str) -> None:
    async with desk(client(**state), mode=mode, size=(140, 45)) as d:
        assert await measured(d, name) > 20


@THEMES
@pytest.mark.parametrize("dialog", list(DIALOGS))
@drive
async def test_every_text_of_a_dialog_stands_out(dialog: str, name: str) -> None:
    mode, keys = DIALOGS[dialog]
    async with desk(client(), mode=mode) as d:
        await d.press(*keys)
        await d.until(lambda: sum(1 for _ in texts(d)) > 3)
        assert await measured(d, name) > 3


def styles() -> dict[str, Style]:
    return {name: style for name, style in vars(theme).items() if isinstance(style, Style) and name != "LINE"}


@pytest.mark.parametrize("pen", list(styles()))
def test_every_pen_stands_out_in_both_rooms(pen: str) -> None:
    style = styles()[pen]
    assert contrast(style) >= LEAST and contrast(theme.in_bright_room(style)) >= LEAST


@THEMES
def test_a_banner_is_as_loud_in_both_rooms(name: str) -> None:
    """A filled line that stands out from the ground by at least 4.5 : 1, and its words from it."""
    shout, ground = theme.SHOUT, theme.GROUND
    if name == theme.BRIGHT:
        shout, ground = theme.in_bright_room(shout), theme.in_bright_room(ground)
    assert contrast(Style(color=shout.bgcolor, bgcolor=ground.bgcolor)) >= LEAST


@drive
async def test_a_banner_fills_its_line_in_both_rooms() -> None:
    async with desk(client(solo=("street",)), mode="light") as d:
        for name in theme.NAMES:
            banner = d.app.screen.query_one(Banner)
            assert {str(one.style.bgcolor.name) for one in banner.render_line(0) if one.style} == {  # type: ignore[union-attr]
                theme.ALARM if name == theme.DARK else theme.BRIGHT_ROOM[theme.ALARM]
            }
            d.app.turn_theme()
            await d.settle()


@pytest.mark.parametrize("swatch", ["#ffb46b", theme.CHALK, theme.FAINT, theme.RULE, theme.ALARM])
def test_a_swatch_is_the_same_colour_in_both_rooms(swatch: str) -> None:
    """Also where it happens to be a colour of the screens themselves."""
    assert theme.in_bright_room(theme.swatch_style(swatch)) == theme.swatch_style(swatch)


@drive
async def test_ctrl_t_changes_every_screen_and_is_kept() -> None:
    kept: list[str] = []
    async with desk(client()) as d:
        d.app.colours = theme.Remembered(keep=kept.append)
        dark = [segment.style for segment in texts(d)]
        await d.press("ctrl+t")
        assert kept == ["bright"] and [segment.style for segment in texts(d)] != dark
        for mode in OnecrewApp.MODES:
            d.app.turn_to(mode)
            await d.settle()
            grounds = {segment.style.bgcolor.name for segment in texts(d) if segment.style}  # type: ignore[union-attr]
            assert not grounds & {theme.SLATE, theme.BOARD}, f"{mode} has dark cells: {grounds}"
        d.app.turn_to("shoot")
        await d.press("ctrl+t")
        assert kept == ["bright", "dark"] and [segment.style for segment in texts(d)] == dark
        assert d.sent == []


@drive
async def test_the_palette_finds_the_bright_room() -> None:
    async with desk(client()) as d:
        await d.press("ctrl+p", *"bright room", "enter")
        await d.until(lambda: d.app.theme == theme.BRIGHT)
