"""`python -m headrace` is the same as the `headrace` command."""

import sys

from headrace.cli import main

if __name__ == "__main__":
    if not sys.flags.safe_path:
        del sys.path[0]  # the working folder: what lies there was not installed by anybody
    main()
