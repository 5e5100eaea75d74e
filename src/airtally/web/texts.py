"""The report's texts and drawings of the records last looked at, each made once."""

from __future__ import annotations

from typing import Any

from airtally.held import Held
from airtally.record.documents import JobRecord
from airtally.report.pages import report_pages

MOST = 16
"""Records whose texts are held."""


class Texts:
    """Gives the texts of a record; making them takes a second, so those last used are held."""

    def __init__(self) -> None:
        self._held: Held[int, tuple[JobRecord, dict[str, Any]]] = Held(MOST)

    def of(self, record: JobRecord) -> dict[str, Any]:
        """Return the texts of a record."""
        # No other record has this id while it is held here; the store gives the same one again.
        return self._held.of(id(record), lambda: (record, report_pages(record)))[1]
