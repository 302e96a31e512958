"""What ``onecrew log`` and ``sheet`` are asked for: which log, which takes, since when, from where on."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from onecrew.cli import reach
from onecrew.errors import Misuse, OnecrewError, Trouble
from onecrew.log.entries import KINDS
from onecrew.log.exports import fps_of, name_at
from onecrew.log.logfile import ENDING, log_path
from onecrew.log.takes import Log, Take, Timed
from onecrew.log.timecode import Rate, rate_of
from onecrew.show.json_reading import decode, read_bytes
from onecrew.show.load import parse_model
from onecrew.show.show import Show

UNITS = {"s": 1.0, "m": 60.0, "h": 3600.0, "d": 86400.0}


def log_of(show: Path | None) -> Path:
    """The log of the show named, or of the only one whose engine runs."""
    path = reach.chosen(show) if show is None else show.expanduser().resolve()
    log = log_path(path)
    if not log.exists() and not path.exists():
        raise Trouble(f"there is no show {path}")
    return log


def chosen(log: Log, arguments: argparse.Namespace) -> tuple[Sequence[Timed], Sequence[Take]]:
    """The entries and the takes that --take, --setup and --since leave."""
    entries: Sequence[Timed] = log.entries
    takes: Sequence[Take] = log.takes
    if arguments.take is not None:
        takes = [log.take(take_number(arguments.take), arguments.setup)]
        entries = takes[0].events
    elif arguments.setup is not None:
        log.take(None, arguments.setup)  # or a sentence
        takes = [take for take in takes if take.setup == arguments.setup]
        entries = [timed for take in takes for timed in take.events]
    if arguments.since is not None:
        begin = since(arguments.since, datetime.now().astimezone())
        entries = [timed for timed in entries if timed.entry.at >= begin]
        takes = [take for take in takes if take.start.entry.at >= begin]
    return entries, takes


def take_number(said: str) -> int | None:
    """A take's number, None for the last one."""
    if said.lower() == "last":
        return None
    if not re.fullmatch(r"\d{1,6}", said, re.ASCII):
        raise Misuse(f"'{said}' is not a take; give its number, or last")
    return int(said)


def kinds_of(said: Sequence[str] | None) -> tuple[str, ...]:
    """The kinds named, none for all."""
    kinds = tuple(kind.strip().lower() for part in said or () for kind in part.split(",") if kind.strip())
    for kind in kinds:
        if kind not in KINDS:
            raise Misuse(f"there is no kind '{kind}'; there are {', '.join(KINDS)}")
    return kinds


def since(said: str, now: datetime) -> float:
    """A moment as seconds since 1970: so long ago, a time of the last 24 hours, or a date."""
    ago = re.fullmatch(r"(\d+(?:\.\d+)?)\s*([smhd])", said.strip().lower(), re.ASCII)
    if ago:
        return now.timestamp() - float(ago[1]) * UNITS[ago[2]]
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2})?", said.strip(), re.ASCII):
        parts = [int(part) for part in said.split(":")]
        try:
            moment = now.replace(
                hour=parts[0], minute=parts[1], second=parts[2] if parts[2:] else 0, microsecond=0
            )
        except ValueError:
            raise Misuse(f"'{said}' is not a time of day") from None
        return (moment if moment <= now else moment - timedelta(days=1)).timestamp()
    try:
        moment = datetime.fromisoformat(said.strip())
    except ValueError:
        raise Misuse(
            f"'{said}' is not a time; write 30m, 2h, 14:00, 2026-01-05 or 2026-01-05T14:00"
        ) from None
    return (moment if moment.tzinfo is not None else moment.astimezone()).timestamp()


def frame_rate(arguments: argparse.Namespace, takes: Sequence[Take], log: Path) -> Rate:
    """The rate of the footage: --fps, else the camera notes of the first take, else those of the show."""
    fps = arguments.fps
    if fps is None:
        fps = fps_of(takes[0]) if takes else None
    if fps is None:
        show = show_beside(log)
        fps = show.camera.fps if show is not None else None
    if fps is None:
        raise Misuse("nothing says at what frame rate the camera ran; add --fps 25, for instance")
    try:
        return rate_of(fps, drop=False if arguments.non_drop else None)
    except ValueError as error:
        source = "" if arguments.fps is not None else " by --fps"
        raise Misuse(f"{error}{source}") from None


def show_name(log: Path, takes: Sequence[Take]) -> str:
    """What the show was called at the first take, else what it is called now, else the file's name."""
    if name := name_at(takes):
        return name
    show = show_beside(log)
    return show.name if show is not None else log.name.removesuffix(ENDING)


def show_beside(log: Path) -> Show | None:
    """The show that a log stands beside, None where it cannot be read."""
    stem = log.name.removesuffix(ENDING)
    for name in (f"{stem}.json", stem):
        path = log.with_name(name)
        try:
            return parse_model(decode(read_bytes(path), str(path)), str(path))
        except OnecrewError:
            continue
    return None
