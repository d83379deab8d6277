"""The way in: `python -m shopboard` and the console script."""

from __future__ import annotations

import gc
import sys


def main() -> int:
    """Run the command line; returns its exit code. A reader that goes away ends the program quietly."""
    gc.disable()  # nothing made on the way to the first screen is garbage; the board turns it on again
    try:
        from shopboard import cli, console

        console.prepare()
        return cli.run(sys.argv[1:])
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
