"""Old documents → the present version of the format."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

VERSION = 1
"""The version of the show format that this program writes."""

Step = Callable[[dict[str, Any]], dict[str, Any]]
STEPS: Mapping[int, Step] = {}
"""By version: what makes a document of the next version of it. Version 1 is the first there was."""


class NewerVersion(ValueError):
    """The document was written by a later lampwright."""


def migrate(data: dict[str, Any], steps: Mapping[int, Step] = STEPS, to: int = VERSION) -> dict[str, Any]:
    """The data of a show as the present version has it; ``data`` itself is left as it is.

    A document without a version is returned as it is. NewerVersion if it is past ``to``, ValueError
    ("what; mend") if it is no whole number or if nothing leads up from it.
    """
    if "version" not in data:
        return data
    version = data["version"]
    if type(version) is not int:
        raise ValueError(f"the version is not a whole number; write {to}")
    if version > to:
        raise NewerVersion(
            f"the show is of version {version}, this lampwright reads up to {to}; install a newer lampwright"
        )
    while version < to:
        if version not in steps:
            raise ValueError(f"there never was a version {version}; write {to}")
        data = {**steps[version](data), "version": version + 1}
        version += 1
    return data
