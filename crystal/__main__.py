"""``python -m crystal`` is the command ``crystal``."""

import sys

from crystal.faces.cli import main

if __name__ == "__main__":
    sys.exit(main())
