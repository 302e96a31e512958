"""``python -m onecrew.engine SHOW``: the engine, in this process. The supervisor starts it."""

import contextlib
import gc
import os
import signal
import sys

from onecrew.engine.docstrings import WANTED, docstrings_left_out
from onecrew.engine.metadata import put_off_metadata
from onecrew.engine.openssl import leave_out_openssl

if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # what ends it before its loop hears it ends it silently
    gc.disable()  # all that an import makes stays: looking through it would only take time
    leave_out_openssl()
    put_off_metadata()
    from onecrew.engine.console import background_output
    from onecrew.engine.realtime import step_forward
    from onecrew.engine.successors import PRELOADED, SPARE
    from onecrew.engine.supervisor import (
        EXIT_CANNOT_START,
        EXIT_DIED,
        EXIT_DONE,
        RESUMED,
        no_room,
        say,
    )

    arguments = sys.argv[1:]
    first = arguments.pop(0) if arguments[0] in (SPARE, PRELOADED) else ""
    told = int(arguments.pop(0)) if first == PRELOADED else 0
    if first != SPARE:
        step_forward()  # the imports take most of the time until the light is there
    wanted = WANTED in os.environ
    try:
        with contextlib.nullcontext() if wanted else docstrings_left_out():
            from onecrew.engine.main import get_ready, main
            from onecrew.engine.preloaded import fork_engines, wait_for_line
    except Exception as error:  # noqa: BLE001 — the interpreter would wait for somebody to read of it
        if not wanted and sys.platform != "win32":  # some library may not do without docstrings
            os.execve(sys.executable, sys.orig_argv, {**os.environ, WANTED: "1"})
        with background_output():
            what = f"{type(error).__name__}: {error}"
            say(f"the engine could not be loaded ({what}): install onecrew again")
        # Where a light waits for it, it is tried again: perhaps onecrew is being installed just now.
        sys.exit(EXIT_DIED if first == SPARE or RESUMED in arguments else EXIT_CANNOT_START)

    if first:
        get_ready(arguments[0])
        try:
            engine = fork_engines(arguments, told) if first == PRELOADED else wait_for_line(arguments)
        except OSError as error:
            with background_output():
                no_room(error)
            sys.exit(EXIT_DIED)
        if engine is None:
            sys.exit(EXIT_DONE)  # whoever would have needed it is gone
        arguments = engine
        step_forward()
    sys.exit(main(arguments))
