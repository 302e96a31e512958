"""Record: a show, the log beside it, and one question about them, as a helper has it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from onecrew.errors import Refused
from onecrew.log.logfile import log_path, read
from onecrew.log.takes import Log, Take, put_in_order
from onecrew.show.profiles import ProfileLibrary, load_profiles
from onecrew.show.safe_write import write_beside
from onecrew.show.show import Show

Answer = dict[str, Any]


class Record:
    """A show, its log beside it and one question about them."""

    def __init__(self, question: dict[str, Any]) -> None:
        self.path = Path(question["path"])
        self.show = Show.model_validate(question["show"])
        self.asked: dict[str, Any] = question["asked"]
        self.recorded: Any = question["moment"]

    @property
    def log(self) -> Log:
        file = log_path(self.path)
        return put_in_order(read(file) if file.exists() else ())

    @property
    def profiles(self) -> ProfileLibrary:
        return load_profiles(beside=self.path)

    def take(self, log: Log) -> Take:
        """The take that is asked for."""
        found = next((take for take in log.takes if take.start.entry.n == self.asked["take"]), None)
        if found is None:
            raise Refused("the log does not have this take any more")
        return found

    def write(self, text: str) -> Answer:
        """Writes the file that is asked for and says where; a path without a folder is beside the show.

        A file that has the name already stays: the new one gets a number behind its own.
        """
        keep = [self.path, log_path(self.path)]
        return {"file": str(write_beside(self.to, text.encode("utf-8", "replace"), keep))}

    @property
    def to(self) -> Path:
        return self.path.parent / Path(self.asked["to"]).expanduser()
