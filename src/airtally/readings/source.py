"""A logger's file with what is stated about it: the one thing that :func:`read_log` takes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from airtally.errors import InputError


class Stamp(StrEnum):
    """Which moment of its averaging interval a stamp marks."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file as received, and what is known about it from outside the file.

    Attributes
    ----------
    content : Path or bytes
        Where the file lies, or its bytes; a table, or a zip or gzip archive of one table.
    name : str
        What problems call it.
    placement : str
        Id of the placement that the readings belong to.
    time_zone : str
        IANA name (``"America/Denver"``), ``"UTC"`` or a fixed offset (``"UTC-7"``, ``"+02:00"``); used only
        for stamps that carry no offset of their own.
    stamps : Stamp
        Whether a stamp marks the start, middle or end of its average.
    interval : float or None
        Averaging interval; ``None`` takes the file's regular step. [s]
    columns : tuple of pairs
        Header word (or ``"#3"`` for the third column) and what it is: ``"pm25 ug/m3"``, ``"pm25 ug/m3 at garden"``,
        or a role: ``time``, ``date``, ``start``, ``end``, ``kind``, ``device``, ``name``, ``value``, ``unit``, ``ignore``.
        In a long table the first of the pair may be a name that occurs in the rows. For event rows a pair such as
        ``("StartTime", "fan_state")`` says which state they switch.
    day_first : bool or None
        Whether 05/06 is the fifth of June; ``None`` looks for a day above 12.
    begins : float or None
        Instant from which a file counts that holds seconds since its own start. [s, POSIX UTC]
    devices : tuple of pairs
        Device id as printed in the file and the placement it belongs to, where one file holds several.
    since, until : float
        Placement's dates, half-open; rows outside are flagged. [s, POSIX UTC]
    """

    content: Path | bytes
    name: str
    placement: str
    time_zone: str = "UTC"
    stamps: Stamp = Stamp.END
    interval: float | None = None
    columns: tuple[tuple[str, str], ...] = ()
    day_first: bool | None = None
    begins: float | None = None
    devices: tuple[tuple[str, str], ...] = ()
    since: float = float("-inf")
    until: float = float("inf")

    def __post_init__(self) -> None:
        """Refuse a stamp word or interval that cannot be used."""
        if self.stamps not in tuple(Stamp):
            raise InputError(f"stamps must be start, middle or end; got {self.stamps}")
        if self.interval is not None and not 0.0 < self.interval < float("inf"):
            raise InputError(f"interval must be above zero; got {self.interval:g} s")
        object.__setattr__(self, "stamps", Stamp(self.stamps))
