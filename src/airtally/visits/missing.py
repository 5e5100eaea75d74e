"""Why a reading is absent."""

from __future__ import annotations

from enum import StrEnum


class Missing(StrEnum):
    """The three ways a reading can be absent; they are different things, and none of them is zero.

    The same three words as in ``airtally.units``; held here too so that a room which may not convert units
    (``safety``) can ask for them.
    """

    NOT_MEASURED = "not measured"
    NOT_ACCESSIBLE = "not accessible"
    UNKNOWN = "unknown"
