"""The version of onecrew that runs here."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as version_of

UNKNOWN = "unknown"


def version() -> str:
    """The version of the installed package; ``UNKNOWN`` where it runs from a folder."""
    try:
        return version_of("onecrew")
    except PackageNotFoundError:
        return UNKNOWN
