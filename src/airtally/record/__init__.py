"""The record of a job: its published schema, its numbers with interval and source, and its file."""

from airtally.record.checks import published_schema, validate
from airtally.record.documents import (
    SCHEMA_VERSION,
    JobRecord,
    moment,
    plain,
    quantity,
    read_record,
    seconds,
    write_record,
)

__all__ = [
    "SCHEMA_VERSION",
    "JobRecord",
    "moment",
    "plain",
    "published_schema",
    "quantity",
    "read_record",
    "seconds",
    "validate",
    "write_record",
]
