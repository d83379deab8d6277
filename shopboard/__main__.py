"""The way in: `python -m shopboard` and the console script."""

from __future__ import annotations

import os
import sys


def main() -> int:
    """Run the command line; returns its exit code. A reader that goes away ends the program quietly."""
    from shopboard.cli import run

    try:
        code = run(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130
    return code


if __name__ == "__main__":
    sys.exit(main())
