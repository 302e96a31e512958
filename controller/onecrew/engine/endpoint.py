"""Endpoint: where a running engine listens, and the files that belong to one show's engine.

Three files per show, named by a digest of the show's resolved path:

- ``<key>.json`` in the runtime folder (0600): port, token and process ids, for the user's own clients;
- ``<key>.lock`` in the runtime folder: held by the engine as long as it lives, one engine per show;
- ``<key>.live`` in the state folder: what the engine was doing, for the engine that follows it.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import logging
import os
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from platformdirs import user_log_path, user_runtime_path, user_state_path

from onecrew.errors import Trouble
from onecrew.plain_files import plain_status
from onecrew.show.disk import write_private

log = logging.getLogger(__name__)

APP = "onecrew"
AGAIN_S = 1.0
"""How often an endpoint is written that found no room, or was taken away."""
PORTS = range(1, 1 << 16)
PIDS = range(1, 1 << 31)
"""The system takes 0 and less for groups of processes."""


@dataclass(frozen=True, slots=True)
class Endpoint:
    """How to reach one engine on 127.0.0.1. ``ValueError`` for what cannot be that of any."""

    show: str
    """Resolved path of the show."""
    port: int
    token: str
    pid: int
    supervisor_pid: int | None
    version: str = ""
    """Of the engine; empty for one that does not tell it."""

    def __post_init__(self) -> None:
        numbers = (self.port, PORTS), (self.pid, PIDS), (self.supervisor_pid or self.pid, PIDS)
        texts = self.show, self.token, self.version
        if not (
            all(type(number) is int and number in allowed for number, allowed in numbers)
            and all(isinstance(text, str) and "\0" not in text for text in texts)
        ):
            raise ValueError("no engine is reached by this")


@dataclass(frozen=True, slots=True)
class Files:
    """The files of one show's engine."""

    show: Path
    endpoint: Path
    lock: Path
    live: Path
    log: Path


def files_of(show: Path) -> Files:
    """Names the engine files of a show and makes their folders, readable by the user alone.

    Raises ``Trouble`` where a folder cannot be made.
    """
    show = known_as(show)
    key = _key(show)
    runtime, state, log = (_private_folder(path) for path in _folders())
    return Files(
        show, runtime / f"{key}.json", runtime / f"{key}.lock", state / f"{key}.live", log / f"{key}.log"
    )


def known_as(show: Path) -> Path:
    """The path by which the engine of a show is found: the resolved one, or the one given where an engine has
    that and a link has been put in its place since.

    Raises ``Trouble`` as ``files_of``.
    """
    show = show.expanduser()
    given = show.parent.resolve() / show.name
    if given.is_symlink() and read_endpoint(_folders()[0] / f"{_key(given)}.json") is not None:
        return given
    return given.resolve()


def _key(show: Path) -> str:
    return hashlib.sha256(os.fsencode(show)).hexdigest()[:16]


def write_endpoint(path: Path, endpoint: Endpoint) -> None:
    """Puts the endpoint in place whole, readable by the user alone."""
    write_private(path, json.dumps(asdict(endpoint)))


def announce(path: Path, endpoint: Endpoint) -> None:
    """Tells clients where to find an engine."""
    try:
        _private_folder(path.parent)
        write_endpoint(path, endpoint)
    except (OSError, Trouble) as error:
        log.warning("no client can find this engine: %s (%s)", path, error)


async def stay_announced(path: Path, endpoint: Endpoint) -> None:
    """Announces an engine anew as long as its endpoint is not there: the disk is full, or somebody cleared
    the folder, as a system does with that of a user who logs out. Where the folder itself is gone, clients
    look in another one until it is back."""
    while True:
        await asyncio.sleep(AGAIN_S)
        if read_endpoint(path) == endpoint:
            continue
        with contextlib.suppress(Trouble):
            place = _folders()[0] / path.name
            if read_endpoint(place) != endpoint:
                announce(place, endpoint)


def read_endpoint(path: Path) -> Endpoint | None:
    """Reads an endpoint; None where there is none or it makes no sense."""
    try:
        plain_status(path)  # a pipe would keep us waiting
        return Endpoint(**json.loads(path.read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError, RecursionError):
        return None


def remove_endpoint(path: Path, pid: int) -> None:
    """Takes the endpoint away if it is still that of process ``pid``, also where clients look by now."""
    places = {path}
    with contextlib.suppress(Trouble):
        places.add(_folders()[0] / path.name)
    for place in places:
        endpoint = read_endpoint(place)
        if endpoint is not None and endpoint.pid == pid:
            place.unlink(missing_ok=True)


def running_engines() -> Iterator[Endpoint]:
    """Endpoints of engines that are alive on this machine for this user."""
    return (endpoint for _, endpoint in _endpoints() if is_alive(endpoint.pid))


def shows_of_engines() -> Iterator[Path]:
    """Shows that an engine has: one that runs, or that went without an orderly end and left its state."""
    return (Path(endpoint.show) for _, endpoint in _endpoints())


def _endpoints() -> Iterator[tuple[Path, Endpoint]]:
    runtime = _folders()[0]
    for path in sorted(runtime.glob("*.json")) if runtime.is_dir() else ():
        endpoint = read_endpoint(path)
        if endpoint is not None:
            yield path, endpoint


def is_abandoned(path: Path) -> bool:
    """Whether an engine left its endpoint without an orderly end, and its supervisor is gone as well."""
    endpoint = read_endpoint(path)
    if endpoint is None:
        return False
    return not any(pid is not None and is_alive(pid) for pid in (endpoint.pid, endpoint.supervisor_pid))


def abandoned_shows() -> Iterator[Path]:
    """Shows of this user whose engine and supervisor are both gone without an orderly end."""
    for path, endpoint in _endpoints():
        if is_abandoned(path) and Path(endpoint.show).exists():
            yield Path(endpoint.show)


def is_alive(pid: int) -> bool:
    """Whether a process with this id runs; one that has ended does not, looked after or not."""
    if os.name == "nt":  # os.kill(pid, 0) would end the process there
        import ctypes

        kernel = ctypes.windll.kernel32  # type: ignore[attr-defined,unused-ignore]
        handle = kernel.OpenProcess(0x1000, False, pid)
        if handle:
            kernel.CloseHandle(handle)
        return bool(handle)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return not _is_zombie(pid)


def _is_zombie(pid: int) -> bool:
    """Whether a process has ended and its parent has not looked yet.

    The screens that started a supervisor are its parent and never look: they must not wait for a dead one.
    """
    try:
        state = Path(f"/proc/{pid}/stat").read_bytes().rpartition(b")")[2].split()[0]
    except (OSError, IndexError):
        pass
    else:
        return state in (b"Z", b"X")
    try:
        return os.waitpid(pid, os.WNOHANG)[0] == pid  # no /proc here: a child of this process can be asked
    except OSError:
        return False


def _folders() -> tuple[Path, Path, Path]:
    with warnings.catch_warnings():
        # Without XDG_RUNTIME_DIR (a container, say) platformdirs warns that it takes another folder.
        warnings.filterwarnings("ignore", message=".*XDG_RUNTIME_DIR")
        try:
            runtime = user_runtime_path(APP, appauthor=False)
        except (OSError, RuntimeError) as error:  # which of them differs from version to version
            raise Trouble(
                f"no folder for the engine's address ({error}): set XDG_RUNTIME_DIR to a folder of your own"
            ) from error
    return runtime, user_state_path(APP, appauthor=False), user_log_path(APP, appauthor=False)


def _private_folder(path: Path) -> Path:
    try:
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise Trouble(
            f"the folder {path} cannot be made ({error.strerror}): free the disk or set its permissions, "
            "the engine keeps its address and its state there"
        ) from error
    _only_ours(path)
    return path


def _only_ours(path: Path) -> None:
    """Raises ``Trouble`` for a folder in which somebody else could put an address that leads us astray."""
    if os.name != "posix":
        return
    found = path.stat()
    if found.st_uid == os.getuid() and found.st_mode & 0o077:
        with contextlib.suppress(OSError):
            path.chmod(0o700)
            found = path.stat()
    if found.st_uid != os.getuid() or found.st_mode & 0o022:
        raise Trouble(
            f"the folder {path} belongs to somebody else or may be written by others: remove it, "
            "or set XDG_RUNTIME_DIR to a folder of your own"
        )
