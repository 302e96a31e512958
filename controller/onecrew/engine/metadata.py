"""Metadata: what importlib.metadata reads of installed packages, which the engine has no use for.

pydantic imports from it what finds plugins, and never calls that: there are none. The module brings in all
that reads mail and zip files: 1.4 MB of memory, and some milliseconds of each start.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import Any

METADATA = "importlib.metadata"


class PutOff(ModuleType):
    """Stands for the module until something of it is used."""

    def entry_points(self, **wanted: str) -> Any:
        """Those of the module, which is loaded for them."""
        return self._loaded().entry_points(**wanted)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):
            raise AttributeError(name)  # asked of every module by whoever looks through them
        return getattr(self._loaded(), name)

    def _loaded(self) -> ModuleType:
        if sys.modules.get(METADATA) is self:
            del sys.modules[METADATA]
        return importlib.import_module(METADATA)


def put_off_metadata() -> None:
    """Has every import after it take the module for loaded; it is once something of it is used."""
    if METADATA not in sys.modules:
        sys.modules[METADATA] = stand_in = PutOff(METADATA)
        setattr(importlib, METADATA.rpartition(".")[2], stand_in)  # as an import of it would
