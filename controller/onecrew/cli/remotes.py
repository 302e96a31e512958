"""The verb ``remote``: who may reach the engine by OSC and by phone. Pure."""

from __future__ import annotations

from collections.abc import Callable

from onecrew.cli.exits import Misuse
from onecrew.commands.context import Context
from onecrew.commands.models import AnyCommand, SetRemote
from onecrew.language.phrases import build, plain, split
from onecrew.show.listener import parse_guest, parse_listener
from onecrew.show.show import Osc, Page, Remote

EXAMPLE = "'remote osc=127.0.0.1:9001', 'remote page=192.168.1.5:9080' or 'remote page=off'"


def remote(words: list[str], context: Context) -> AnyCommand:
    head, pairs = split(words)
    if head or not pairs:
        raise Misuse(f"'remote' needs what and where, as {EXAMPLE}")
    present = context.need_show().remote
    osc, page = present.osc, present.page
    for pair in pairs:
        value = plain(pair, "remote")
        if pair.key == "osc":
            osc = None if value == "off" else build(Osc, allow=osc.allow if osc else (), **_listen(value))
        elif pair.key == "page":
            page = None if value == "off" else build(Page, **_listen(value))
        elif pair.key == "allow":
            if osc is None:
                raise Misuse("first say where to listen for OSC: remote osc=0.0.0.0:9001 allow=192.168.1.20")
            osc = build(Osc, listen=osc.listen, allow=_guests(value))
        else:
            raise Misuse(f"there is no remote '{pair.key}'; there are osc, allow and page, as {EXAMPLE}")
    return SetRemote(remote=Remote(osc=osc, page=page))


def _listen(value: str) -> dict[str, object]:
    if value == "on":
        return {}
    _checked(parse_listener, value)
    return {"listen": value}


def _guests(value: str) -> tuple[str, ...]:
    names = () if value in ("", "none") else tuple(part.strip() for part in value.split(",") if part.strip())
    for name in names:
        _checked(parse_guest, name)
    return names


def _checked(parse: Callable[[str], object], value: str) -> None:
    try:
        parse(value)
    except ValueError as error:
        raise Misuse(str(error)) from None


def words_of_remote(remote: Remote) -> str:
    """The inverse: everything that ``remote`` says, spelt out."""
    osc, page = remote.osc, remote.page
    said = f"remote osc={osc.listen if osc else 'off'}"
    if osc is not None:
        said += f" allow={','.join(osc.allow) or 'none'}"
    return f"{said} page={page.listen if page else 'off'}"
