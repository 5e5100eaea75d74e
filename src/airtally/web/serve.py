"""A server on this machine: one process, one store, the browser opened at the list of jobs."""

from __future__ import annotations

import contextlib
import socket
import threading
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path

import uvicorn

from airtally.errors import InputError
from airtally.store.engine import open_store
from airtally.web.access import LOOPBACK, Access, new_code
from airtally.web.app import make_app
from airtally.web.worker import Workers

FIRST_PORT = 8417


@contextlib.contextmanager
def served(store_file: Path, *, port: int = 0, access: Access | None = None, at: str = "127.0.0.1") -> Iterator[str]:
    """Serve a store in a thread while the block runs and yield the address; for tests and for looking at pages."""
    store = open_store(store_file)
    server = uvicorn.Server(uvicorn.Config(make_app(store, access), log_level="warning", lifespan="off"))
    with socket.create_server((at, port)) as listening, Workers(store_file):
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started and thread.is_alive():
            thread.join(0.005)
        try:
            yield f"http://{at}:{listening.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(10.0)
            store.close()


def serve(store_file: Path, *, port: int, tablet: str, opens_browser: bool, say: Callable[[str], None]) -> None:
    """Serve until stopped.

    Parameters
    ----------
    store_file : Path
        The company's file of jobs; made if it is not there.
    port : int
        0 takes the usual one or, where that is taken, a free one.
    tablet : str
        Name or address by which other devices on the same network call this machine; empty serves this one only.
    opens_browser : bool
    say : callable
        Told the address and, for a tablet, the pairing code.
    """
    if tablet and ("/" in tablet or ":" in tablet or not tablet.strip()):
        raise InputError(f"a tablet calls this machine by a name or an address without port; got {tablet!r}")
    access = Access(hosts=(*LOOPBACK, tablet.lower()), code=new_code()) if tablet else Access()
    store = open_store(store_file)
    config = uvicorn.Config(make_app(store, access), log_level="warning", lifespan="off", timeout_graceful_shutdown=5)
    server = uvicorn.Server(config)
    with _listening("0.0.0.0" if tablet else "127.0.0.1", port) as listening, Workers(store_file):  # noqa: S104
        number = listening.getsockname()[1]
        address = f"http://127.0.0.1:{number}/"
        say(f"airtally is at {address} and keeps its jobs in {store_file}. Stop it with Ctrl+C.")
        if tablet:
            say(f"On the tablet open http://{tablet}:{number}/ and give the code {access.code[:4]} {access.code[4:]}.")
        if opens_browser:
            threading.Timer(0.4, webbrowser.open, (address,)).start()
        server.run(sockets=[listening])
    store.close()


def _listening(host: str, port: int) -> socket.socket:
    wanted = port or FIRST_PORT
    try:
        return socket.create_server((host, wanted))
    except OSError as error:
        if port:
            raise InputError(f"port {port} is taken or not allowed ({error.strerror}); choose another") from error
        return socket.create_server((host, 0))
