"""Main: one engine from start to end — lock, loop, signals, exit status."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import logging
import selectors
import signal
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from filelock import FileLock, Timeout

from onecrew.engine.console import background_output
from onecrew.engine.desk import Desk
from onecrew.engine.endpoint import files_of, read_endpoint, running_engines
from onecrew.engine.process import Engine
from onecrew.engine.realtime import RealTime
from onecrew.engine.supervisor import EXIT_CANNOT_START, EXIT_DIED, EXIT_DONE, READY, RESUMED
from onecrew.errors import OnecrewError, Refused, Trouble
from onecrew.show.hold import Hold
from onecrew.show.load import load_show
from onecrew.show.new import new_show
from onecrew.show.profiles import load_profiles
from onecrew.show.save import save_show, versions_folder
from onecrew.standby.options import read_options
from onecrew.terminal import printable

log = logging.getLogger(__name__)

AGAIN_WITHIN_S = 5.0
"""A second Ctrl-C within this confirms the first."""
YOUNG = 10_000
"""New objects before the collector looks at them: a state for clients is thousands, which soon go again."""
SWITCH_S = 0.0005
"""Longest time that the thread which saves keeps the interpreter to itself while a frame waits for it."""


def main(argv: Sequence[str]) -> int:
    """Runs the engine of the show ``argv[0]``; with ``RESUMED`` as the last word in place of one that died.

    ``--feed`` and ``--standby`` give it a part in a pair, as ``standby.read_options`` reads them. Prints
    ``ready`` when the first packet has left and everything it was asked to open is open. Returns 0 after a
    stop, 2 after a sentence on standard error that says why it cannot run, 1 after a bug.
    """
    with background_output():
        try:
            return _main(argv)
        except Exception:
            # Said here, not by the interpreter: it would wait for somebody to read it, and never end.
            log.exception("the engine failed")
            return EXIT_DIED


def get_ready(show: str) -> None:
    """Does beforehand what an engine of this show takes time for at its start: models and tables."""
    with contextlib.suppress(Exception):  # what fails here will fail at the start, and is said then
        profiles = load_profiles(beside=Path(show))
        Desk(load_show(Path(show), profiles), profiles, time.monotonic())


class Plain(logging.Formatter):
    """A message is a line, and does nothing to a terminal, whatever names and notes it quotes."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 — the library's name
        record.message = printable(record.message)
        return super().formatMessage(record)


class Interrupt:
    """Ctrl-C: ends the engine; what an end has to confirm, a second one soon after confirms."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._at = -AGAIN_WITHIN_S

    def __call__(self) -> None:
        now = time.monotonic()
        again, self._at = now < self._at + AGAIN_WITHIN_S, now
        try:
            self._engine.leave(confirmed=again)
        except Refused as refused:
            self._engine.say(f"{refused}: Ctrl-C again confirms it")


async def _run(engine: Engine) -> None:
    loop = asyncio.get_running_loop()
    for number, act in ((signal.SIGTERM, engine.leave), (signal.SIGINT, Interrupt(engine))):
        if sys.platform == "win32":
            signal.signal(number, lambda *_, act=act: loop.call_soon_threadsafe(act))
        else:
            loop.add_signal_handler(number, act)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
    # What was loaded stays for good: the collector need not look at it again, and its pauses stay short.
    gc.collect()
    gc.freeze()
    gc.set_threshold(YOUNG)
    gc.enable()
    sys.setswitchinterval(SWITCH_S)
    real_time = RealTime()
    real_time.ask()
    try:
        await engine.run()
    finally:
        real_time.close()


def precise_loop() -> asyncio.AbstractEventLoop:
    """A loop that wakes within microseconds: epoll counts in whole milliseconds, select does not."""
    if sys.platform == "win32":
        return asyncio.SelectorEventLoop()
    return asyncio.SelectorEventLoop(selectors.SelectSelector())


def _say_ready() -> None:
    sys.stdout.write(READY)
    sys.stdout.flush()


def _say(sentence: str) -> None:
    sys.stderr.write(f"onecrew: {printable(sentence)}\n")
    sys.stderr.flush()


def _main(argv: Sequence[str]) -> int:
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Plain("%(asctime)s %(levelname)s %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    try:
        files = files_of(Path(argv[0]))
        lock = FileLock(files.lock)
        try:
            lock.acquire(blocking=False)
        except Timeout:
            raise Trouble(_already_running(files.endpoint, argv[0])) from None
        except OSError as error:
            raise Trouble(
                f"the lock {files.lock} cannot be taken ({error.strerror}): remove what stands there, "
                "or free the disk"
            ) from error
        _refuse_another_name(files.show)
        with contextlib.suppress(OSError):  # whoever needs it says what is wrong
            files.live.touch(mode=0o600)
        with lock, asyncio.Runner(loop_factory=precise_loop) as runner:
            plan = read_options(argv[1:])
            if plan is not None and plan.follow is not None and not files.show.exists():
                save_show(new_show(files.show.stem), files.show)  # it becomes the main engine's
            ready = None if RESUMED in argv else _say_ready
            try:
                hold, _live = Hold(files.show), Hold(files.live, files.show)
                _versions = _hold_on_versions(files.show)
            except Trouble:
                if all(Path(running.show) != files.show for running in running_engines()):
                    raise
                # Somebody cleared the runtime folder: the lock there is a new one.
                raise Trouble(_already_running(files.endpoint, argv[0])) from None
            if hold.remark:
                _say(hold.remark)
            runner.run(_run(Engine(files, ready, plan, warn=_say, hold=hold)))
    except OnecrewError as error:
        for line in str(error).splitlines():
            _say(line)
        return EXIT_CANNOT_START
    return EXIT_DONE


def _hold_on_versions(show: Path) -> Hold:
    """The lock on the folder of a show's versions: no editor puts another there, as it may with the show.

    It is made where there is none, so that a show that was never saved has it too.
    """
    folder = versions_folder(show)
    if show.exists():
        with contextlib.suppress(OSError):  # the first save says what is wrong there
            folder.mkdir(exist_ok=True)
    return Hold(folder, show)


def _refuse_another_name(show: Path) -> None:
    """Raises ``Trouble`` where an engine runs for the same file under another name, a hard link."""
    for running in running_engines():
        with contextlib.suppress(OSError):
            if Path(running.show) != show and show.samefile(running.show):
                raise Trouble(
                    f"{show} is the same file as {running.show}, whose engine already runs (process "
                    f"{running.pid}): `onecrew open {running.show}` attaches to it; or make a copy"
                )


def _already_running(endpoint: Path, show: str) -> str:
    running = read_endpoint(endpoint)
    process = f" (process {running.pid})" if running is not None else ""
    return f"an engine already runs for {show}{process}: `onecrew open {show}` attaches to it"
