"""``python -m onecrew.cli`` is ``onecrew``."""

import sys

from onecrew.cli import main

if __name__ == "__main__":
    sys.exit(main())
