"""The invented demo job: a simulated house that shares no code with the account that is tested on it."""

from __future__ import annotations

from airtally.demo.quirks import ALL_QUIRKS, Quirk
from airtally.demo.write import write_demo

__all__ = ["ALL_QUIRKS", "Quirk", "write_demo"]
