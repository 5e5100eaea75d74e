"""The process that does long work: it takes up what was asked for, tells how far it is, and stops when cancelled.

``python -m airtally.jobs.worker FILE`` runs until its standard input closes, as it does when the server that started
it is gone.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import uuid
from collections.abc import Callable
from pathlib import Path

from airtally.errors import AirtallyError
from airtally.jobs.inputs import Progress
from airtally.jobs.run import run_job
from airtally.jobs.screened import screen_stored
from airtally.store.engine import Store, open_store
from airtally.store.folder import export_folder
from airtally.store.models import Work
from airtally.store.readings import KeptReadings
from airtally.store.records import keep_record
from airtally.store.works import claim, finish, tell

PULSE = 2.0
"""How often a worker says that it is alive, and learns that it is to stop. [s]"""
PAUSE = 0.5
"""How long a worker rests where nothing is asked for. [s]"""


class _Stopped(Exception):
    """The work was cancelled, or another worker has it."""


def main() -> None:
    """Work until standard input closes."""
    store = open_store(Path(sys.argv[1]))
    worker = f"worker {os.getpid()} {uuid.uuid4().hex[:8]}"
    threading.Thread(target=_leave_with_the_server, daemon=True).start()
    rest = threading.Event()
    while True:
        work = claim(store, worker)
        if work is None:
            rest.wait(PAUSE)
        else:
            do(store, work, worker)


def do(store: Store, work: Work, worker: str) -> None:
    """Do a work that was claimed; whatever goes wrong in it is its end, in words, and not the worker's."""
    done = threading.Event()
    pulse = threading.Thread(target=_pulse, args=(store, work.id, worker, done), daemon=True)
    pulse.start()

    def progress(words: str) -> None:
        if not tell(store, work.id, worker, words):
            raise _Stopped

    try:
        failure = KINDS[work.kind](store, work, progress)
    except _Stopped:
        failure = ""
    except AirtallyError as error:
        failure = str(error)
    except Exception as error:  # noqa: BLE001 - a fault of the program must not take the queue down
        failure = f"a fault in airtally ({type(error).__name__}: {error}); nothing of the job was changed"
    finally:
        done.set()
        pulse.join()
    finish(store, work.id, worker, failure)


def _whole(store: Store, work: Work, progress: Progress) -> str:
    """Run the whole job and keep its record; return why it could not be done, empty if it could."""
    with tempfile.TemporaryDirectory(prefix="airtally-") as scratch:
        folder = Path(scratch) / "job"
        progress("taking the job's files out of the store")
        export_folder(store, work.job_id, folder)
        result = run_job(folder, seed=work.seed, progress=progress, kept=KeptReadings(store))
    if isinstance(result, tuple):
        return "; ".join(problem.sentence() for problem in result if problem.severity.value == "fatal")
    progress("keeping the record")
    keep_record(store, work.job_id, result)
    return ""


def _readings(store: Store, work: Work, progress: Progress) -> str:
    """Read and screen the job's logs."""
    screen_stored(store, work.job_id, progress)
    return ""


KINDS: dict[str, Callable[[Store, Work, Progress], str]] = {"whole": _whole, "readings": _readings}
"""What is done for each kind of work that pages ask for."""


def _pulse(store: Store, work: uuid.UUID, worker: str, done: threading.Event) -> None:
    """Keep the lease; end the process when the work was cancelled, for arithmetic cannot be interrupted otherwise."""
    while not done.wait(PULSE):
        if not tell(store, work, worker):
            finish(store, work, worker)
            os._exit(0)


def _leave_with_the_server() -> None:
    while sys.stdin.buffer.read(1024):
        pass
    os._exit(0)


if __name__ == "__main__":
    main()
