"""Serving the page: a port of 127.0.0.1, the printed address, the browser, and a clean end."""

from __future__ import annotations

import contextlib
import os
import secrets
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Iterator
from types import FrameType

import uvicorn

from barfem.model.errors import InputError
from barfem.page.app import Answers, make_app
from barfem.page.session import Session

__all__ = ["address", "listen", "serve"]

HOST = "127.0.0.1"


def address(port: int, token: str) -> str:
    """The page's address with its token."""
    return f"http://{HOST}:{port}/?token={token}"


def listen(port: int) -> socket.socket:
    """A socket that listens on this machine alone; port 0 takes one that is free.

    Raises
    ------
    InputError
        The port is taken or may not be used.
    """
    # The protocol by its number, not 0: only then does asyncio switch Nagle's algorithm off in what connects, which has
    # the body of each answer wait 40 ms for the browser to acknowledge its head.
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":  # there it would let two programs share the port
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((HOST, port))
        made.listen(128)
    except OSError as error:
        made.close()
        raise InputError(
            f"port {port} cannot be used: {error.strerror or error}.",
            where="--port",
            expected="another port, or none: a free one is taken.",
        ) from error
    made.setblocking(False)
    return made


def serve(session: Session, *, port: int = 0, browser: bool = True) -> None:
    """Serve the page until Ctrl-C or SIGTERM; prints its address on a line of its own before the first answer.

    Raises
    ------
    InputError
        The port is taken.
    """
    sys.setswitchinterval(1e-3)  # an answer that is ready does not wait long for a thread that computes
    listening = listen(port)
    token, port = secrets.token_urlsafe(24), listening.getsockname()[1]
    answers = Answers(session)
    config = uvicorn.Config(
        make_app(session, token=token, port=port, answers=answers),
        lifespan="off",
        log_level="critical",
        access_log=False,
        server_header=False,
        date_header=False,
        timeout_graceful_shutdown=1,
        loop="asyncio",
        http="h11",
        ws="none",
    )
    print(address(port, token), flush=True)
    answers.warm()
    threading.Thread(target=_tell, args=(address(port, token) if browser else None,), daemon=True).start()
    try:
        _Server(config).run(sockets=[listening])
    finally:
        answers.worker.close()
        with contextlib.suppress(OSError):
            listening.close()
    print("barfem page: stopped.", file=sys.stderr)


def _tell(url: str | None) -> None:
    """Open the browser, and say how to go on; a machine without one is no error."""
    opened = False
    if url is not None and _has_screen():
        with contextlib.suppress(Exception):
            opened = webbrowser.open(url)
    print(f"barfem page: {'' if opened else 'open that address in a browser; '}Ctrl-C stops it.", file=sys.stderr)


def _has_screen() -> bool:
    """Whether a window can open: a browser of the terminal would take it from the user."""
    return not sys.platform.startswith("linux") or any(map(os.environ.get, ("DISPLAY", "WAYLAND_DISPLAY")))


class _Server(uvicorn.Server):
    """A server that ends on Ctrl-C without raising it again: to stop is what was asked."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {number: signal.signal(number, self._stop) for number in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _stop(self, number: int, frame: FrameType | None) -> None:
        self.should_exit = self.force_exit = True
