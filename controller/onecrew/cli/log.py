"""``onecrew log``: what happened, take by take, and what the edit needs of it."""

from __future__ import annotations

import argparse
import contextlib
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from onecrew.cli.exits import DONE, complain
from onecrew.cli.log_choice import chosen, frame_rate, kinds_of, log_of, show_name
from onecrew.cli.output import STANDARD_OUTPUT, check_names, write_text
from onecrew.cli.parts import print_json, table
from onecrew.errors import Misuse
from onecrew.language.saying import counted, seconds
from onecrew.log.entries import Entry, as_json, from_line, to_line
from onecrew.log.exports import EXPORTS, FRAMES, Cut, exported, sync_of
from onecrew.log.logfile import newest, read
from onecrew.log.takes import Log, Take, Timed, put_in_order
from onecrew.log.text import clean
from onecrew.log.timecode import Rate

FOLLOW_S = 0.25
FOLLOWED = 10
"""Lines shown before the first new one."""


def run(arguments: argparse.Namespace) -> int:
    _refuse_contradictions(arguments)
    path = log_of(arguments.show)
    if arguments.follow:
        return _follow(path, arguments)
    if _only_the_newest(arguments):
        _print_newest(path, arguments)
        return DONE
    torn: list[None] = []
    log = put_in_order(read(path, lambda: torn.append(None)))
    if torn:
        said = "a line is" if len(torn) == 1 else f"{len(torn)} lines are"
        complain(f"{said} torn in {path}, cut off by a kill or a full disk, and passed over")
    entries, takes = chosen(log, arguments)
    exports = [name for name in EXPORTS if getattr(arguments, name) is not None]
    if exports:
        _export(exports, path, log, entries, takes, arguments)
    elif arguments.takes:
        _print_takes(takes, arguments.json)
    else:
        kinds = kinds_of(arguments.kind)
        shown = [timed for timed in entries if not kinds or timed.entry.kind in kinds]
        _print_entries(shown[-arguments.newest :] if arguments.newest else shown, takes, arguments)
    return DONE


def _only_the_newest(arguments: argparse.Namespace) -> bool:
    """Whether the end of the file says it all: takes and exports need the log in order."""
    others = (arguments.take, arguments.setup, arguments.since, *(getattr(arguments, one) for one in EXPORTS))
    return arguments.newest is not None and not arguments.takes and all(one is None for one in others)


def _refuse_contradictions(arguments: argparse.Namespace) -> None:
    given = [name for name in ("take", "setup", *EXPORTS) if getattr(arguments, name)]
    if arguments.follow and (given or arguments.takes):
        raise Misuse(f"--follow prints as things happen; leave out --{given[0] if given else 'takes'}")
    if arguments.newest is not None and arguments.newest < 1:
        raise Misuse("--newest takes a number from 1 on")
    if arguments.sync is not None and not any(getattr(arguments, name) for name in EXPORTS):
        raise Misuse("--sync belongs to an export: add --csv, --vtt, --srt, --edl or --otio FILE")


# ── On the terminal ─────────────────────────────────────────────────────────────────────────────────


def _print_newest(path: Path, arguments: argparse.Namespace) -> None:
    shown, _ = newest(path, arguments.newest, kinds_of(arguments.kind))
    if arguments.json:
        print_json([as_json(entry) for entry in shown])
    for entry in () if arguments.json else shown:
        print(_line(entry))


def _print_entries(shown: Sequence[Timed], takes: Sequence[Take], arguments: argparse.Namespace) -> None:
    if arguments.json:
        print_json([as_json(timed.entry) for timed in shown])
        return
    zero = takes[0].start.t if arguments.take and takes else None
    for timed in shown:
        print(_line(timed.entry, None if zero is None else timed.t - zero))


def _line(entry: Entry, after_s: float | None = None) -> str:
    at = entry.local.strftime("%Y-%m-%d %H:%M:%S.%f")[:-3]
    into = "" if after_s is None else f"{after_s:+9.2f} s  "
    return f"{at}  {into}{clean(entry.kind):<6}  {clean(entry.text)}"


def _print_takes(takes: Sequence[Take], as_json: bool) -> None:
    if as_json:
        print_json([take.facts() for take in takes])
        return
    rows = [["setup", "take", "at", "length", "cue at the start", "clip", "good", "notes"]]
    for take in takes:
        length = "runs" if take.end is None else seconds(take.length_s or 0)
        rows.append(
            [
                clean(take.setup),
                str(take.number),
                take.start.entry.local.strftime("%Y-%m-%d %H:%M:%S"),
                "cut short" if take.cut_short else length,
                clean(take.cue),
                clean(take.clip),
                {True: "good", False: "no", None: ""}[take.good],
                "; ".join(clean(note) for note in take.notes),
            ]
        )
    print("\n".join(table(rows, right=frozenset({1, 3}))) if takes else "no takes")


def _follow(path: Path, arguments: argparse.Namespace) -> int:
    with contextlib.suppress(KeyboardInterrupt):
        for entry in _as_they_come(path, arguments.newest or FOLLOWED, kinds_of(arguments.kind)):
            print(to_line(entry).decode(errors="replace") if arguments.json else _line(entry) + "\n", end="")
            sys.stdout.flush()
    return DONE


def _as_they_come(path: Path, count: int, kinds: Sequence[str]) -> Iterator[Entry]:
    """The newest entries, then each new one; a log that is not there yet is waited for."""
    before, at = newest(path, count, kinds) if path.exists() else ([], 0)
    yield from before
    rest = b""
    while True:
        with contextlib.suppress(OSError), path.open("rb") as file:
            file.seek(at)
            *lines, rest = (rest + file.read()).split(b"\n")
            at = file.tell()
            for line in lines:
                if (entry := from_line(line)) is not None and (not kinds or entry.kind in kinds):
                    yield entry
        time.sleep(FOLLOW_S)


# ── For the edit ────────────────────────────────────────────────────────────────────────────────────


def _export(
    exports: Sequence[str],
    path: Path,
    log: Log,
    entries: Sequence[Timed],
    takes: Sequence[Take],
    arguments: argparse.Namespace,
) -> None:
    if not entries:
        raise Misuse("nothing in the log is left to export; ask for less")
    rate: Rate | None = None
    try:
        rate = frame_rate(arguments, takes, path)
    except Misuse:
        if FRAMES & set(exports) or arguments.sync is not None or arguments.fps is not None:
            raise
    start = takes[0].start if takes else entries[0]
    sync_s = sync_of(arguments.sync, rate, start.entry, "--sync")
    cut = Cut(log, entries, takes, show_name(path, takes), rate, sync_s, kinds_of(arguments.kind))
    written = {name: exported(name, cut) for name in exports}
    check_names([getattr(arguments, name) for name in exports], [path], replace=arguments.replace)
    for name, text in written.items():
        write_text(getattr(arguments, name), text, keep=[path], replace=arguments.replace)
    paths = {name: getattr(arguments, name) for name in exports}
    if STANDARD_OUTPUT not in map(str, paths.values()):
        of = counted(len(takes), "take") if takes else f"{counted(len(entries), 'line')} of the log"
        for name, file in paths.items():
            print(f"wrote {clean(str(file))}: {EXPORTS[name]}, of {of}")
