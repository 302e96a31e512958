"""``python -m controller.cli`` is ``lampwright``."""

import sys

from controller.cli import main

if __name__ == "__main__":
    sys.exit(main())
