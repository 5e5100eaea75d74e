"""Wall-clock texts of a visits file as instants."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from airtally.errors import Problem, Severity


def read_time(written: object, zone: ZoneInfo, where: str) -> tuple[float | None, tuple[Problem, ...]]:
    """Return an ISO time (text, or a TOML date or time) as POSIX seconds [s], with what was doubtful about it.

    A time without offset is wall clock of the home. Of a time that happens twice the first is taken, of a
    time that never happened the clock before the change; both with a Problem.
    """
    moment = _as_datetime(written)
    if moment is None:
        return None, (
            Problem(
                code="visits-time-unreadable",
                where=where,
                found=f"{_shown(written)} is no time",
                wanted='an ISO time such as "2025-09-23 09:30", with an offset if it is not the home\'s clock',
                remedy="Correct the time.",
            ),
        )
    if moment.tzinfo is not None:
        return _seconds(moment, where)
    first, second = moment.replace(tzinfo=zone, fold=0), moment.replace(tzinfo=zone, fold=1)
    seconds, problems = _seconds(first, where)
    if seconds is None or first.utcoffset() == second.utcoffset():
        return seconds, problems
    came_back = datetime.fromtimestamp(seconds, tz=zone).replace(tzinfo=None, fold=0)
    code = "visits-time-in-fold" if came_back == moment.replace(fold=0) else "visits-time-in-gap"
    return seconds, (
        Problem(
            code=code,
            where=where,
            found=f"{_shown(written)} is not one instant in {zone.key}",
            wanted="a time with its offset from UTC on nights when the clocks change",
            remedy="Write the offset behind the time.",
            severity=Severity.NOTE,
        ),
    )


def _as_datetime(written: object) -> datetime | None:
    if isinstance(written, datetime):
        return written
    if isinstance(written, date):
        return datetime(written.year, written.month, written.day)
    if not isinstance(written, str):
        return None
    try:
        return datetime.fromisoformat(written.strip())
    except ValueError:
        return None


def _seconds(moment: datetime, where: str) -> tuple[float | None, tuple[Problem, ...]]:
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    try:
        seconds = (moment.astimezone(UTC) - epoch) / timedelta(seconds=1)
    except OverflowError:
        seconds = float("nan")
    if 0.0 <= seconds < 4.2e9:  # 1970 to 2103
        return seconds, ()
    return None, (
        Problem(
            code="visits-time-unreadable",
            where=where,
            found=f"the year {moment.year} lies outside 1970 to 2100",
            wanted="a date of this job",
            remedy="Correct the year.",
        ),
    )


def _shown(written: object) -> str:
    text = " ".join(str(written).split())
    return f'"{text if len(text) <= 40 else text[:37] + "..."}"'
