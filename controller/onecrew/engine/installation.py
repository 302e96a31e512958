"""Installation: the identity this computer has on the network, kept for good.

E1.31-2018 §5.6: a source's CID is a UUID that stays the same for the life of the device, so that receivers
know it again. One per show file, so that two engines on one computer are two sources.
"""

from __future__ import annotations

import uuid
from pathlib import Path

from platformdirs import user_state_path

from onecrew.engine.endpoint import APP
from onecrew.errors import Trouble


def installation_cid(show: Path) -> uuid.UUID:
    """The CID of this installation's source for a show; made at the first call, the same ever after.

    Raises ``Trouble`` where it can be neither read nor kept.
    """
    path = user_state_path(APP, appauthor=False) / "installation-id"
    try:
        installation = uuid.UUID(path.read_text(encoding="ascii").strip())
    except (OSError, ValueError):
        installation = uuid.uuid4()
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            path.write_text(f"{installation}\n", encoding="ascii")
        except OSError as error:
            raise Trouble(
                f"the installation's identity cannot be kept in {path} ({error.strerror})"
            ) from error
    return uuid.uuid5(installation, str(show))
