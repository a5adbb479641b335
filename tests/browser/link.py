"""The air between a phone and the server: a small TCP proxy whose link can be cut, fall silent, or lose answers."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Literal

State = Literal["good", "cut", "silent", "answers lost", "answers halved"]
HALF = 40  # bytes of an answer that still come through: the status line and a little more


class Link:
    """good: everything passes. cut: nobody answers the door. silent: it is opened and nothing comes back, nor gets
    through. answers lost: what is sent arrives, no answer does. answers halved: it breaks off in the middle.
    """

    def __init__(self, port: int) -> None:
        """A link to a port of this machine."""
        self.port = port
        self._state: State = "good"
        self._open: set[socket.socket] = set()
        self._door = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.url = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        threading.Thread(target=self._serve, daemon=True).start()

    def become(self, state: State) -> None:
        """Change how the link is. What is under way is broken off; a silent link keeps even that waiting."""
        self._state = state
        if state != "silent":
            self._break_off()

    def close(self) -> None:
        """Take it down."""
        self._state = "cut"
        self._door.close()
        self._break_off()

    def _break_off(self) -> None:
        for end in list(self._open):
            _hang_up(end)

    def _serve(self) -> None:
        while True:
            try:
                caller, _ = self._door.accept()
            except OSError:
                return
            if self._state == "cut":
                _hang_up(caller)
                continue
            try:
                server = socket.create_connection(("127.0.0.1", self.port), timeout=10)
            except OSError:
                _hang_up(caller)
                continue
            server.settimeout(None)
            self._open |= {caller, server}
            for source, sink, answers in ((caller, server, False), (server, caller, True)):
                threading.Thread(target=self._carry, args=(source, sink, answers), daemon=True).start()

    def _carry(self, source: socket.socket, sink: socket.socket, answers: bool) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                if self._state == "silent":
                    continue
                if answers and self._state == "answers lost":
                    break
                if answers and self._state == "answers halved":
                    sink.sendall(data[:HALF])
                    break
                sink.sendall(data)
        _hang_up(source)
        _hang_up(sink)
        self._open -= {source, sink}


def _hang_up(end: socket.socket) -> None:
    with suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


def port_of(url: str) -> int:
    """The port in an address of this machine."""
    return int(url.rsplit(":", 1)[1])


@contextmanager
def link_to(url: str) -> Iterator[Link]:
    """A link to a server at an address of this machine, until left."""
    link = Link(port_of(url))
    try:
        yield link
    finally:
        link.close()
