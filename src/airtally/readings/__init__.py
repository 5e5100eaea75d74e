"""What the loggers said: files as received become one Log, flagged and never thinned out."""

from __future__ import annotations

from airtally.readings.coverage import Floor, Gaps, floor_of, gaps, refresh_interval
from airtally.readings.fan import FanLevel, FanStates, fan_states, mask_in_duct, running_spells
from airtally.readings.lags import ClockOffset, OffsetChange, clock_offset, offset_changes
from airtally.readings.log import Flag, Log, LogFile, Stream
from airtally.readings.read import read_log
from airtally.readings.screen import Screening, screen_log
from airtally.readings.source import Source, Stamp

__all__ = [
    "ClockOffset",
    "FanLevel",
    "FanStates",
    "Flag",
    "Floor",
    "Gaps",
    "Log",
    "LogFile",
    "OffsetChange",
    "Screening",
    "Source",
    "Stamp",
    "Stream",
    "clock_offset",
    "fan_states",
    "floor_of",
    "gaps",
    "mask_in_duct",
    "offset_changes",
    "read_log",
    "refresh_interval",
    "running_spells",
    "screen_log",
]
