"""``python -m onecrew.engine SHOW``: the engine, in this process. The supervisor starts it."""

import gc
import sys

from onecrew.engine.openssl import leave_out_openssl

if __name__ == "__main__":
    gc.disable()  # all that an import makes stays: looking through it would only take time
    leave_out_openssl()
    from onecrew.engine.realtime import step_forward
    from onecrew.engine.supervisor import EXIT_DONE, SPARE

    arguments = sys.argv[1:]
    waits = arguments[:1] == [SPARE]
    if not waits:
        step_forward()  # the imports take most of the time until the light is there
    from onecrew.engine.main import get_ready, main

    if waits:
        arguments = arguments[1:]
        get_ready(arguments[0])
        line = sys.stdin.readline()
        if not line:
            sys.exit(EXIT_DONE)  # whoever would have needed it is gone
        arguments += line.split()
        step_forward()
    sys.exit(main(arguments))
