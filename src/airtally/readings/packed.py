"""Bytes as received to text: archives of one table, byte order marks, encodings."""

from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE

from airtally.errors import Problem, Severity
from airtally.readings import problems as codes

LARGEST_TEXT = 1 << 30
"""A table longer than this is not unpacked: an archive can claim to hold anything. [bytes]"""


def unpack(content: bytes, name: str) -> tuple[bytes, list[Problem]]:
    """Return the bytes of the one table that a zip or gzip archive holds; other bytes unchanged."""
    if content[:2] == b"\x1f\x8b":
        return _gunzip(content, name)
    if content[:4] == b"PK\x03\x04":
        return _unzip(content, name)
    return content, []


def _gunzip(content: bytes, name: str) -> tuple[bytes, list[Problem]]:
    try:
        with gzip.open(io.BytesIO(content)) as stream:
            table = stream.read(LARGEST_TEXT + 1)
    except (OSError, EOFError, zlib.error) as error:
        return b"", [_refused(name, f"the gzip archive is damaged ({error})")]
    if len(table) > LARGEST_TEXT:
        return b"", [_refused(name, "the archive unpacks to more than 1 GiB")]
    return table, []


def _unzip(content: bytes, name: str) -> tuple[bytes, list[Problem]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = [one for one in archive.infolist() if not one.is_dir()]
            if len(members) != 1:
                names = ", ".join(one.filename for one in members[:5])
                return b"", [_refused(name, f"the archive holds {len(members)} files ({names})")]
            if members[0].file_size > LARGEST_TEXT:
                return b"", [_refused(name, "the archive unpacks to more than 1 GiB")]
            return archive.read(members[0]), []
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, OSError, EOFError, ValueError) as error:
        return b"", [_refused(name, f"the zip archive is damaged or locked ({error})")]


def _refused(name: str, found: str) -> Problem:
    return Problem(
        code=codes.ARCHIVE_UNREADABLE,
        where=name,
        found=found,
        wanted="an archive that holds one table",
        remedy="Unpack it and name the table's file in the survey.",
    )


def decode(content: bytes, name: str) -> tuple[str, str, list[Problem]]:
    """Return a table's text, the encoding in words, and what was assumed; never fails."""
    if content.startswith(BOM_UTF8):
        return content[3:].decode("utf-8", errors="replace"), "UTF-8 with byte order mark", []
    if content.startswith((BOM_UTF16_LE, BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace"), "UTF-16", []
    sample = content[:4000]
    if len(sample) > 8 and sample[1::2].count(0) > 0.4 * len(sample) / 2:
        return content.decode("utf-16-le", errors="replace"), "UTF-16 without mark", []
    if len(sample) > 8 and sample[0::2].count(0) > 0.4 * len(sample) / 2:
        return content.decode("utf-16-be", errors="replace"), "UTF-16 without mark", []
    try:
        return content.decode("utf-8"), "UTF-8", []
    except UnicodeDecodeError:
        assumed = Problem(
            code=codes.ENCODING_ASSUMED,
            where=name,
            found="the text is not valid UTF-8; it was read as Windows-1252",
            wanted="nothing, if names and units look right",
            remedy="Save the table as UTF-8 if a header word looks wrong.",
            severity=Severity.NOTE,
        )
        return content.decode("cp1252", errors="replace"), "Windows-1252", [assumed]
