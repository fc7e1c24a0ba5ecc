"""The workers of one service: forked from a process that has loaded everything, once for all.

Uvicorn looks after them (signals, one that died, one that hangs), but would start each as a new
interpreter that loads everything again: seconds of two cores before the first answer.
"""

import multiprocessing
import os
import pickle
import signal
import socket
from multiprocessing.connection import wait
from threading import Thread

import uvicorn
from uvicorn.supervisors import multiprocess

FORK = multiprocessing.get_context("fork")
"""The process that forks only waits, and looks after its workers. The one kind of thread in it
waits for the end of a repricing that was taken up again, and holds no lock that a worker takes."""


class Worker(multiprocess.Process):
    """A worker, which ends when the process that looks after it is no more."""

    def __init__(self, config: uvicorn.Config, sockets: list[socket.socket]) -> None:
        """Get ready what is to be forked."""
        super().__init__(config, sockets)
        self.process = FORK.Process(target=self._serve, args=(sockets,))  # type: ignore[assignment]

    def start(self) -> None:
        """Fork; a signal that comes meanwhile waits until the worker knows what to do with it."""
        held = signal.pthread_sigmask(signal.SIG_BLOCK, multiprocess.SIGNALS)
        try:
            super().start()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)

    def _serve(self, sockets: list[socket.socket]) -> None:
        for each in multiprocess.SIGNALS:
            signal.signal(each, signal.SIG_DFL)  # not what the process does that looks after it
        signal.pthread_sigmask(signal.SIG_UNBLOCK, multiprocess.SIGNALS)
        Thread(target=_end_with_parent, daemon=True).start()
        self.target(sockets)

    def _healthcheck(self, timeout: float) -> bool | None:
        """Ask for a sign of life; one that dies meanwhile is not waited for."""
        try:
            self.parent_conn.send(b"ping")
            if self.parent_conn in wait([self.parent_conn, self.process.sentinel], timeout):
                started: bool = self.parent_conn.recv()
                return started
        except (OSError, EOFError, pickle.UnpicklingError):
            return None
        return None


def _end_with_parent() -> None:
    """Stop, in order, when whoever looks after this worker was killed: nobody else would do it."""
    parent = multiprocessing.parent_process()
    assert parent is not None, "a worker is forked"
    wait([parent.sentinel])
    os.kill(os.getpid(), signal.SIGTERM)


def serve_by_workers(config: uvicorn.Config, listening: socket.socket) -> None:
    """Serve by as many workers as the configuration says, until told to stop."""
    multiprocess.Process = Worker  # type: ignore[misc] # uvicorn has no other place to say which
    multiprocess.Multiprocess(config, sockets=[listening]).run()
