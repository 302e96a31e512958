"""``python -m controller.engine SHOW``: the engine, in this process. The supervisor starts it."""

import sys

from controller.engine.main import main

if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
