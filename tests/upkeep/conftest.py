"""The small shop of the command line's tests, and commands run in this process."""

from cli.conftest import _small_day, at_once, shop

__all__ = ["_small_day", "at_once", "shop"]
