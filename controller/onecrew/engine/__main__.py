"""``python -m onecrew.engine SHOW``: the engine, in this process. The supervisor starts it."""

import sys

from onecrew.engine.realtime import step_forward

if __name__ == "__main__":
    step_forward()  # the imports take most of the time until the light is there
    from onecrew.engine.main import main

    sys.exit(main(sys.argv[1:]))
