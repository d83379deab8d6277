"""A closed terminal or a polite kill ends the board as Ctrl+Q does: what is half typed is written, the lock let go."""

from __future__ import annotations

import asyncio
import signal
import threading
from collections.abc import Callable


def on_hangup(leave: Callable[[], object]) -> None:
    """Call `leave` on SIGTERM and SIGHUP, where the system has them and this thread may listen."""
    if threading.current_thread() is not threading.main_thread():
        return
    loop = asyncio.get_running_loop()
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None:
            try:
                loop.add_signal_handler(number, leave)
            except NotImplementedError:  # Windows: the process is simply ended there
                return
