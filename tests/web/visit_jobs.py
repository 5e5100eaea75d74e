"""An invented home and its server for the tests of the visit's pages."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from starlette.testclient import TestClient

from airtally.store.edits import edit, text_of
from airtally.store.engine import Store, open_store
from airtally.store.listing import add_job
from airtally.store.texts import Change
from airtally.web.app import make_app

SURVEY = """schema = 1
[home]
id = "pear-lane"
name = "Pear Lane (invented)"
is_invented = true
time_zone = "America/Denver"
currency = "USD"
[[zone]]
id = "living"
name = "living room"
kind = "room"
is_occupied = true
volume = "6000 ft3"
[[zone]]
id = "utility"
name = "utility room"
kind = "basement"
is_occupied = false
volume = "600 ft3"
[[envelope]]
flow_at_50 = "2000 cfm"
floor_area = "1500 ft2"
[air_handler]
[[air_handler.speed]]
name = "heating"
flow = "900 cfm"
[[air_handler.speed]]
name = "circulate"
flow = "600 cfm"
[[exhaust]]
id = "hood"
kind = "range hood"
zone = "living"
flow = "150 cfm"
[[appliance]]
id = "water-heater"
kind = "water heater"
zone = "utility"
venting = "natural draft"
fuel = "natural gas"
output = "32 kBtu/h"
[[appliance]]
id = "furnace"
kind = "furnace"
zone = "utility"
venting = "induced draft"
fuel = "natural gas"
output = "64 kBtu/h"
"""
GATES_CLEAR = """[visit.gates]
alarm_sounding = "no"
gas_smell = "no"
symptoms_clear_outdoors = "no"
fire_or_ash_within_24_h = "no"
vermiculite = "no"
suspect_wrap = "no"
"""
STATE = """[visit.state]
doors = "open"
air_handler = "off"
exhausts_on = "none"
fires_lit = "none"
vent = "cold"
outdoor_temperature = "40 degF"
"""
WORST = 'doors = "worst case", exhausts_on = "all", air_handler = "heating"'
TEST_IN = f"""schema = 1
[[visit]]
id = "test-in"
kind = "test-in"
time = "2025-09-23 09:30"
by = "technician"
reading = [
  {{ key = "tesp", value = "0.86 inH2O", place = "air handler", air_handler = "heating" }},
  {{ key = "spillage_time", value = "at least 5 min", place = "water-heater", {WORST} }},
]
{STATE}{GATES_CLEAR}"""
TEST_OUT = f"""[[visit]]
id = "test-out"
kind = "test-out"
time = "2025-10-03 10:00"
by = "technician"
{STATE}{GATES_CLEAR}"""


@dataclass(frozen=True)
class Site:
    """A store with one job, its pages, and what its visits hold."""

    store: Store
    job: UUID
    client: TestClient

    def visits(self) -> list[dict[str, Any]]:
        """Return the visits as written."""
        return list(tomllib.loads(text_of(self.store, self.job, "visits")[0]).get("visit", []))

    def readings(self, number: int = 0) -> list[dict[str, Any]]:
        """Return the readings of a visit as written."""
        return list(self.visits()[number].get("reading", []))

    def revision(self) -> int:
        """Return the newest revision."""
        return text_of(self.store, self.job, "visits")[1]

    def get(self, path: str, status: int = 200) -> str:
        """Return a page of the visits."""
        answer = self.client.get(f"/job/{self.job}/visit{path}")
        assert answer.status_code == status, answer.text[:500]
        return answer.text

    def post(self, path: str, data: Mapping[str, Any]) -> Any:
        """Post to the visits as a page of this server does."""
        return self.client.post(f"/job/{self.job}/visit{path}", data=data, headers={"sec-fetch-site": "same-origin"})

    def keep(self, path: str, name: str, sent: Mapping[str, str], post: str, based_on: int | None = None) -> Any:
        """Post one field as the script does."""
        fields = {f"{name}{suffix}": value for suffix, value in sent.items()}
        based = self.revision() if based_on is None else based_on
        return self.post(path, fields | {"only": name, "based_on": str(based), "post": post})


def site(folder: Path, visits: str = TEST_IN, survey: str = SURVEY) -> Site:
    """Return a job with these texts."""
    folder.mkdir(exist_ok=True)
    store = open_store(folder / "jobs.db")
    job = add_job(store, survey, "technician")
    if visits:
        edit(
            store, job, "visits", [Change(path=(), value=visits)], text_of(store, job, "visits")[1], "technician", "all"
        )
    client = TestClient(make_app(store), base_url="http://127.0.0.1", follow_redirects=False)
    return Site(store, job, client)


def groups(page: str) -> dict[str, str]:
    """Return each group's name by who it is, as a page draws them."""
    return dict(re.findall(r'data-place="([^"]+)" data-name="([^"]+)"', page))


def group(page: str, *words: str) -> str:
    """Return the name of the first group whose place holds all the words."""
    return next(name for place, name in groups(page).items() if all(word in place for word in words))
