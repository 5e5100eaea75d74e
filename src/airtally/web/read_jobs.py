"""The readings of the jobs last looked at, each read once while neither its texts nor its files change."""

from __future__ import annotations

import threading
from collections import OrderedDict
from uuid import UUID

from airtally.jobs.inputs import JobInputs
from airtally.jobs.stored import stored_inputs
from airtally.store.engine import Store
from airtally.store.logs import logs_of

MOST = 3
"""Jobs whose readings are held: some hundred megabytes each at most."""


class ReadJobs:
    """Gives a job's inputs."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._held: OrderedDict[tuple[object, ...], JobInputs] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, job: UUID, revision: int) -> JobInputs:
        """Return the inputs of a job as it stands at a revision."""
        key = (job, revision, *((log.name, log.digest) for log in logs_of(self._store, job)))
        with self._lock:
            if key not in self._held:
                self._held[key] = stored_inputs(self._store, job, lambda _: None)
            self._held.move_to_end(key)
            while len(self._held) > MOST:
                self._held.popitem(last=False)
            return self._held[key]
