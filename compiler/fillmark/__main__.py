"""`python -m fillmark`: the same as the `fillmark` command."""

import sys

from fillmark.cli import main

if __name__ == "__main__":
    sys.exit(main())
