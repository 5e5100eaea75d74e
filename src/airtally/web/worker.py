"""Keeps one worker process beside the server while it runs; a worker that dies is started again."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType


class Workers:
    """A context in which long work asked for in a store is done."""

    def __init__(self, store_file: Path) -> None:
        self._command = [sys.executable, "-m", "airtally.jobs.worker", str(store_file)]
        self._over = threading.Event()
        self._watch = threading.Thread(target=self._keep_one, daemon=True)

    def __enter__(self) -> Workers:
        """Start the worker."""
        self._watch.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop the worker; work it had begun is taken up by the next one."""
        self._over.set()
        self._watch.join(10.0)

    def _keep_one(self) -> None:
        while not self._over.is_set():
            # Its standard input is the leash: it closes with this process, however that ends.
            with subprocess.Popen(self._command, stdin=subprocess.PIPE) as worker:  # noqa: S603 - our own module
                while worker.poll() is None and not self._over.wait(0.2):
                    pass
                if worker.poll() is None:
                    worker.terminate()
            self._over.wait(1.0)
