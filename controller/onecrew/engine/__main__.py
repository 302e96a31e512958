"""``python -m onecrew.engine SHOW``: the engine, in this process. The supervisor starts it."""

import gc
import sys

from onecrew.engine.metadata import put_off_metadata
from onecrew.engine.openssl import leave_out_openssl

if __name__ == "__main__":
    gc.disable()  # all that an import makes stays: looking through it would only take time
    leave_out_openssl()
    put_off_metadata()
    from onecrew.engine.console import background_output
    from onecrew.engine.realtime import step_forward
    from onecrew.engine.supervisor import EXIT_CANNOT_START, EXIT_DIED, EXIT_DONE, RESUMED, SPARE, say

    arguments = sys.argv[1:]
    waits = arguments[:1] == [SPARE]
    if not waits:
        step_forward()  # the imports take most of the time until the light is there
    try:
        from onecrew.engine.main import get_ready, main
    except Exception as error:  # noqa: BLE001 — the interpreter would wait for somebody to read of it
        with background_output():
            what = f"{type(error).__name__}: {error}"
            say(f"the engine could not be loaded ({what}): install onecrew again")
        # Where a light waits for it, it is tried again: perhaps onecrew is being installed just now.
        sys.exit(EXIT_DIED if waits or RESUMED in arguments else EXIT_CANNOT_START)

    if waits:
        arguments = arguments[1:]
        get_ready(arguments[0])
        line = sys.stdin.readline()
        if not line:
            sys.exit(EXIT_DONE)  # whoever would have needed it is gone
        arguments += line.split()
        step_forward()
    sys.exit(main(arguments))
