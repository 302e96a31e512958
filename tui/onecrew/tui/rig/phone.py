"""The code that pairs a phone, scanned from the screen, and the form for the remotes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rich.style import Style
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical

from onecrew.language import network, writing
from onecrew.language.phrases import build
from onecrew.language.reading import yes_no
from onecrew.phone.qr import lines
from onecrew.show.show import Osc, Page, Remote
from onecrew.tui import theme
from onecrew.tui.dialogs.dialog import Dialog
from onecrew.tui.dialogs.form import Form
from onecrew.tui.drawing.canvas import Canvas, CanvasWidget, wrap

PAPER = Style(color="#ffffff", bgcolor="#000000")
"""Light modules are drawn: a code is dark on light whatever colours the screen has."""


class Code(CanvasWidget):
    """The QR code, and beside it what to do with it."""

    ground = theme.BAR

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__()
        self.code = lines(str(answer["url"]))
        self.styles.height = max(len(self.code), 14)
        minutes = float(answer["good_for_s"]) / 60
        self.said = [
            "Scan this with the phone's camera; or open",
            str(answer["page"]),
            f"and type {answer['code']}",
            "",
            f"Good for one phone and {minutes:.0f} minutes. Anyone who has it can run the show.",
        ]
        if answer.get("here_only"):
            self.said += ["", "Only this computer can reach it: Shift+L changes that."]
        self.said += ["", "Esc goes back"]

    def draw(self, canvas: Canvas) -> None:
        for y, row in enumerate(self.code):
            canvas.put(0, y, row, PAPER)
        x = len(self.code[0]) + 2
        y = 1
        for line in self.said:
            for piece in wrap(line, canvas.width - x):
                canvas.put(x, y, piece, theme.BAR)
                y += 1


class PhoneCode(Dialog[None]):
    """Shows one code until a key is pressed."""

    AUTO_FOCUS = ""
    DEFAULT_CSS = "PhoneCode > Vertical { width: 76; border: none; padding: 1 2; }"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter,q", "go_back", "close")]

    def __init__(self, answer: Mapping[str, Any]) -> None:
        super().__init__()
        self.answer = answer

    def compose(self) -> ComposeResult:
        with Vertical():
            yield Code(self.answer)


def remotes_form(remote: Remote) -> Form[Remote]:
    """Where OSC and the phone page listen; an empty line turns one off."""

    def read(texts: dict[str, str]) -> Remote:
        osc, page = (
            network.listener(at) if (at := texts[label]) else "" for label in ("OSC at", "phone page at")
        )
        allow, feedback = network.guests(texts["OSC allows"]), network.receivers(texts["OSC feedback to"])
        is_trim = yes_no(texts["phones trim lamps"] or "off", "phones trim lamps")
        return build(
            Remote,
            osc=build(Osc, listen=osc, allow=allow, feedback=feedback) if osc else None,
            page=build(Page, listen=page, trim=is_trim) if page else None,
        )

    fields = {
        "OSC at": remote.osc.listen if remote.osc is not None else "",
        "OSC allows": " ".join(remote.osc.allow) if remote.osc is not None else "",
        "OSC feedback to": " ".join(remote.osc.feedback) if remote.osc is not None else "",
        "phone page at": remote.page.listen if remote.page is not None else "",
        "phones trim lamps": writing.on(remote.page is not None and remote.page.trim),
    }
    hint = (
        "An address of this computer and a port, as in 127.0.0.1:9001 for OSC or 192.168.1.5:9080 for the "
        "phone page; empty: off. OSC allows: other machines that may send; OSC feedback to: address:port of "
        "control surfaces that follow the desk. Shift+P then pairs a phone."
    )
    return Form("Remotes: OSC and the phone page", fields, read, hint)
