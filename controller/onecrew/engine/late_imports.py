"""Late imports: what an engine needs on few days is imported when it is asked for: it stays small without."""

from __future__ import annotations

import asyncio
from importlib import import_module
from typing import Any

from onecrew.errors import Trouble


async def imported(module: str) -> Any:
    """The module; the frames go on while it is loaded. Raises ``Trouble`` where it is not there any more."""
    try:
        return await asyncio.to_thread(import_module, module)
    except ImportError as error:
        raise Trouble(
            f"onecrew was changed while this engine runs ({error}): stop the engine and start it again"
        ) from error
