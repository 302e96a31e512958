"""How a command ends: done, failed or misused; and the sentences it says about it."""

from __future__ import annotations

import contextlib
import errno
import os
import signal
import sys
import traceback
from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from onecrew.errors import Misuse, OnecrewError, Trouble

DONE = 0
FAILED = 1
MISUSED = 2

LOG_LIMIT_BYTES = 1 << 20


def guarded(work: Callable[[], int]) -> int:
    """Runs a command; returns its exit status, whatever happens in it.

    A user's mistake becomes sentences on standard error, a bug one sentence and a traceback in the log file.
    Ctrl-C and a reader that has gone away (``onecrew profiles | head``) are quiet.
    """
    try:
        status = work()
        sys.stdout.flush()
    except SystemExit as done:  # argparse: --help and misuse
        return done.code if isinstance(done.code, int) else FAILED
    except KeyboardInterrupt:
        return FAILED
    except BrokenPipeError:
        _close_quietly()
        return FAILED
    except Misuse as mistake:
        complain(str(mistake))
        return MISUSED
    except OnecrewError as error:
        complain(str(error))
        return FAILED
    except Exception as bug:  # noqa: BLE001 — the last line of defence: a bug is a sentence and a log entry
        if (sentence := _unusable_file(bug)) is not None:
            complain(str(Trouble(sentence)))
            if isinstance(bug, OSError) and bug.errno == errno.ENOSPC:
                _close_quietly()
        else:
            complain(f"that should not have happened ({type(bug).__name__}); {_written_down()}")
        return FAILED
    return status


@contextlib.contextmanager
def endings_are_interrupts() -> Iterator[None]:
    """Lets SIGTERM and a closed window end the work as Ctrl-C does, with everything tidied up.

    A shell without job control starts what goes on behind it with Ctrl-C ignored; here it is heard again, or
    SIGTERM would be lost with it.
    """

    def interrupt(_signal: int, _frame: object) -> None:
        signal.raise_signal(signal.SIGINT)

    handlers: dict[str, Any] = {"SIGTERM": interrupt, "SIGHUP": interrupt}
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        handlers["SIGINT"] = signal.default_int_handler
    with _handled(handlers):
        yield


@contextlib.contextmanager
def undisturbed() -> Iterator[None]:
    """Lets no signal cut short the tidying up; for work that is bounded in time."""
    with _handled(dict.fromkeys(("SIGINT", "SIGTERM", "SIGHUP"), signal.SIG_IGN)):
        yield


@contextlib.contextmanager
def _handled(handlers: Mapping[str, Any]) -> Iterator[None]:
    """Handles signals by their names, as far as the system has them."""
    names = [name for name in handlers if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), handlers[name]) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)


def complain(sentence: str) -> None:
    """Says a sentence, or one on each line, on standard error."""
    with contextlib.suppress(OSError, ValueError):
        for line in sentence.splitlines():
            print(f"onecrew: {line}", file=sys.stderr, flush=True)


def _unusable_file(error: Exception) -> str | None:
    """A sentence about a file whose very name the system refuses, or a full disk; None where it is a bug."""
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        return f"not all could be written ({str(error.strerror).lower()}); make room and run it again"
    if isinstance(error, OSError) and error.errno in (errno.ENAMETOOLONG, errno.EACCES, errno.ELOOP):
        return f"{error.filename}: {str(error.strerror).lower()}; name a file that can be opened here"
    # pathlib's own: a link that leads to itself (before Python 3.13), ~name of nobody on this machine
    if isinstance(error, RuntimeError) and str(error).startswith(
        ("Symlink loop", "Could not determine home")
    ):
        return f"{str(error).rstrip('.').lower()}; name a file that can be opened here"
    return None


def _written_down() -> str:
    """Puts the traceback being handled into the log file; says where in words."""
    import platformdirs

    path = Path(platformdirs.user_log_dir("onecrew", appauthor=False)) / "command-line.log"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        too_big = path.exists() and path.stat().st_size > LOG_LIMIT_BYTES
        with path.open("w" if too_big else "a", encoding="utf-8") as log:
            log.write(f"{datetime.now().isoformat(timespec='seconds')} {' '.join(sys.argv)}\n")
            log.write(traceback.format_exc() + "\n")
    except OSError as error:
        return f"the log {path} cannot be written either ({error.strerror})"
    return f"details are in {path}"


def _close_quietly() -> None:
    """Points standard output at nothing, so that the interpreter's last flush has nobody to complain to."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
