"""A store in a folder of its own, and the texts of a small job."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from airtally.store.engine import Store, open_store

SURVEY = """# A small invented home.
schema = 1

[home]
name = "Invented Lane"  # asked at the door
time_zone = "America/Denver"
is_invented = true

# rooms first
[[zone]]
id = "living"
volume = "300 m3"  # tape

[[zone]]
id = "garage"
kind = "garage"
volume = "90 m3"

[air_handler]
motor = "PSC"

[[air_handler.filter]]
id = "one-inch"
rating = "MERV 8"
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "here" / "company.sqlite")
    yield opened
    opened.close()
