"""The screened readings of the jobs last looked at, each taken from its file once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from uuid import UUID

from airtally.jobs.screened import Screened, screened_key, screened_of
from airtally.store.engine import Store

MOST = 3
"""Jobs whose readings are held: some hundred megabytes each at most."""


class ReadJobs:
    """Gives a job's readings."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._held: OrderedDict[tuple[UUID, str], Screened] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, job: UUID) -> Screened | None:
        """Return the readings of a job as it stands; None where the worker has not read them yet."""
        key = screened_key(self._store, job)
        with self._lock:
            found = self._held.get((job, key)) or screened_of(self._store, job, key)
            if found is None:
                return None
            self._held[job, key] = found
            self._held.move_to_end((job, key))
            while len(self._held) > MOST:
                self._held.popitem(last=False)
            return found
