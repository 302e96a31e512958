"""A show to begin with."""

from __future__ import annotations

from pydantic import ValidationError

from onecrew.errors import Refused
from onecrew.show.show import Show


def new_show(name: str) -> Show:
    """An empty show: no fixture, no cue, sACN by multicast. Refused if the name is empty or over 80 long."""
    try:
        return Show(name=name.strip())
    except ValidationError:
        raise Refused("A show needs a name of 1 to 80 characters; give another one.") from None
