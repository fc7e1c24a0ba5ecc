"""A way to a service that breaks off in the middle, when the service is killed."""

import os
import signal
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from tests.http.door import HERE
from tests.server.running import Service


@contextmanager
def killed_after(lines: int, service: Service) -> Iterator[str]:
    """Pass a request on, and so many lines of the answer's body; then kill the service.

    Gives the address to ask at.
    """
    with socket.create_server((HERE, 0)) as listening:
        passing = threading.Thread(target=_pass_on, args=(listening, lines, service))
        passing.start()
        yield f"http://{HERE}:{listening.getsockname()[1]}"
        passing.join()


def _pass_on(listening: socket.socket, lines: int, service: Service) -> None:
    caller, _ = listening.accept()
    with caller, socket.create_connection((HERE, service.port)) as behind:
        there = threading.Thread(target=_copy, args=(caller, behind))
        there.start()
        answer = b""
        while answer.partition(b"\r\n\r\n")[2].count(b"}\n") < lines:
            came = behind.recv(65_536)
            assert came, answer
            answer += came
        head, _, body = answer.partition(b"\r\n\r\n")
        cut = b"}\n".join(body.split(b"}\n")[:lines]) + b"}\n"
        caller.sendall(head + b"\r\n\r\n" + cut)
        os.killpg(service.process.pid, signal.SIGKILL)
        service.process.wait()
        caller.shutdown(socket.SHUT_RDWR)
        there.join()


def _copy(caller: socket.socket, behind: socket.socket) -> None:
    while came := caller.recv(65_536):
        try:
            behind.sendall(came)
        except OSError:
            return
