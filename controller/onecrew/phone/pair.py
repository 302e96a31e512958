"""The question ``pair``: a one-time code for a phone, with the URL that is shown as a QR code."""

from __future__ import annotations

from typing import Any

from onecrew.clock import since_boot
from onecrew.errors import Mistake, Refused
from onecrew.phone.address import is_for_this_machine_alone, page_urls
from onecrew.phone.files import PageFiles
from onecrew.phone.pairing import CODE_S, Codes, shown_code
from onecrew.show.show import Page


def how(address: str) -> str:
    """What sets up a page that phones reach, at the port of this one: its address, or its URL."""
    port = address.strip("/").rpartition(":")[2]
    return f"`onecrew send remote page=ADDRESS:{port}`, with this computer's address on the network"


def pair(files: PageFiles, wanted: Page | None, error: str, arguments: dict[str, Any]) -> dict[str, Any]:
    """Gives out a code, or with ``{"forget": true}`` ends every code and every phone's access.

    ``wanted`` is the page that the show asks for and ``error`` why it cannot be served. Raises ``Mistake``,
    ``Refused`` or ``Trouble`` with a sentence.
    """
    forget = arguments.get("forget", False)
    if not isinstance(forget, bool) or set(arguments) - {"forget"}:
        raise Mistake('the question is {"ask": "pair"}, with {"forget": true} to unpair every phone')
    codes = Codes(files.codes)
    if forget:
        codes.forget()
        return {"forgotten": True}
    if wanted is None:
        raise Refused(f"this show has no phone page; Shift+L on Rig, or {how(Page().listen)}, sets one up")
    if error:
        raise Refused(error)
    urls = page_urls(wanted.listen)
    if not urls:
        raise Refused(
            "this computer's address on the network cannot be found out; Shift+L on Rig, or "
            f"{how(wanted.listen)}, names it"
        )
    code = codes.new(since_boot())
    return {
        "url": f"{urls[0]}#{code}",
        "page": urls[0],
        "code": shown_code(code),
        "good_for_s": CODE_S,
        "here_only": is_for_this_machine_alone(wanted.listen),
    }
