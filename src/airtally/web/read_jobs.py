"""The screened readings of the jobs last looked at, each taken from its file once."""

from __future__ import annotations

from uuid import UUID

from airtally.held import Held
from airtally.jobs.screened import Screened, screened_key, screened_of
from airtally.store.engine import Store

MOST = 3
"""Jobs whose readings are held: some hundred megabytes each at most."""


class ReadJobs:
    """Gives a job's readings."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._held: Held[tuple[UUID, str], Screened | None] = Held(MOST)

    def of(self, job: UUID) -> Screened | None:
        """Return the readings of a job as it stands; None where the worker has not read them yet."""
        key = screened_key(self._store, job)
        return self._held.of((job, key), lambda: screened_of(self._store, job, key))
