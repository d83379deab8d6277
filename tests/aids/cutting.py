"""A relay between a terminal and its server that loses, cuts or delays what passes, as a bad line does."""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Callable

#: What to do with some bytes: "pass" them, "cut" the line without them, "swallow" them and leave the line open,
#: "late" (cut the terminal off, keep them for `release`), or pass only so many and cut then.
Fate = str | int
#: Asked with "ask" or "answer" (which way they go) and the bytes.
Rule = Callable[[str, bytes], Fate]


def _pass(_way: str, _data: bytes) -> Fate:
    return "pass"


class Relay:
    """Listens on `port` of loopback and passes everything on to `target`, as `rule` says."""

    def __init__(self, target: int) -> None:
        self.target, self.rule = target, _pass
        self.refusing = False
        self.passed = 0
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._late: list[tuple[socket.socket, bytes]] = []
        self._one_by_one = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            if self.refusing:
                client.close()
                continue
            try:
                server = socket.create_connection(("127.0.0.1", self.target))
            except OSError:
                client.close()
                continue
            for one in (client, server):
                one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            if not self._kept(client, server):
                continue
            for way, source, sink in (("ask", client, server), ("answer", server, client)):
                threading.Thread(target=self._carry, args=(way, source, sink), daemon=True).start()

    def _kept(self, client: socket.socket, server: socket.socket) -> bool:
        """Whether the line counts: one that was being made while all were cut off would outlive the cut."""
        with self._one_by_one:
            if not self.refusing:
                self._pairs.append((client, server))
                return True
        _close(client)
        _close(server)
        return False

    def _carry(self, way: str, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(1 << 20):
                fate = self.rule(way, data)
                if fate == "pass":
                    self.passed += len(data)
                    sink.sendall(data)
                elif fate == "late":
                    self._late.append((sink, data))
                    _close(source)
                    return
                elif isinstance(fate, int):
                    sink.sendall(data[:fate])
                    break
                elif fate == "cut":
                    break
        if not any(sink is kept for kept, _ in self._late) and not any(source is kept for kept, _ in self._late):
            _close(source)
            _close(sink)

    def cut(self) -> None:
        """Cut every line there is."""
        with self._one_by_one:
            pairs, self._pairs = self._pairs, []
        for pair in pairs:
            for one in pair:
                _close(one)

    def release(self) -> int:
        """Let what was held back reach the server at last; how many pieces that was."""
        late, self._late = self._late, []
        for sink, data in late:
            with contextlib.suppress(OSError):
                sink.sendall(data)
        return len(late)

    def close(self) -> None:
        """End it."""
        self._listener.close()
        self.cut()


def _close(one: socket.socket) -> None:
    with contextlib.suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    with contextlib.suppress(OSError):
        one.close()
