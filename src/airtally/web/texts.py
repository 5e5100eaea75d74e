"""The report's texts and drawings of the records last looked at, each made once."""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Any

from airtally.record.documents import JobRecord
from airtally.report.pages import report_pages

MOST = 16
"""Records whose texts are held."""


class Texts:
    """Gives the texts of a record; making them takes a second, so those last used are held."""

    def __init__(self) -> None:
        self._held: OrderedDict[int, tuple[JobRecord, dict[str, Any]]] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, record: JobRecord) -> dict[str, Any]:
        """Return the texts of a record."""
        key = id(record)  # no other has it while the record is held here; the store gives the same one again
        with self._lock:
            if key not in self._held:
                self._held[key] = (record, report_pages(record))
            self._held.move_to_end(key)
            while len(self._held) > MOST:
                self._held.popitem(last=False)
            return self._held[key][1]
