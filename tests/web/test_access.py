"""Who may reach the pages: hosts, origins, pairing, sizes, policy (STACK: measured behaviour of Chromium)."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from airtally.store.engine import open_store
from airtally.web.access import MOST_TRIES, Access, host_name
from airtally.web.app import make_app
from airtally.web.render import asset_address

SAME = {"origin": "http://127.0.0.1"}


def client(folder: Path, access: Access | None = None, host: str = "127.0.0.1") -> TestClient:
    """Return a client of an application over an empty store."""
    return TestClient(
        make_app(open_store(folder / "jobs.db"), access), base_url=f"http://{host}", follow_redirects=False
    )


def new_job(**headers: str) -> dict[str, object]:
    """Return what posting a new job takes."""
    return {"data": {"name": "A home", "time_zone": "Europe/Oslo", "currency": "NOK"}, "headers": headers}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "van.lan", ""])
def test_a_name_that_the_server_was_not_started_for_is_refused(tmp_path: Path, host: str) -> None:
    answer = client(tmp_path).get("/", headers={"host": host})
    assert answer.status_code == 400
    assert "Jobs" not in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8417", "localhost:9", "[::1]:8417", "LOCALHOST"])
def test_this_machine_is_served_by_its_own_names(tmp_path: Path, host: str) -> None:
    assert client(tmp_path).get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "same-origin"}, 303),
        ({"sec-fetch-site": "none"}, 303),
        ({"sec-fetch-site": "cross-site", "origin": "http://127.0.0.1"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"origin": "http://127.0.0.1"}, 303),
        ({"origin": "http://127.0.0.1:81"}, 403),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({}, 403),
    ],
)
def test_a_change_must_come_from_our_own_pages(tmp_path: Path, headers: dict[str, str], status: int) -> None:
    pages = client(tmp_path)
    assert pages.post("/jobs", **new_job(**headers)).status_code == status  # type: ignore[arg-type]
    assert ("A home" in pages.get("/").text) is (status == 303)


def test_a_tablet_gives_the_code_once(tmp_path: Path) -> None:
    access = Access(hosts=("127.0.0.1", "van.lan"), code="12345678")
    app = make_app(open_store(tmp_path / "jobs.db"), access)
    tablet = TestClient(app, base_url="http://van.lan", client=("10.0.0.7", 5000), follow_redirects=False)
    assert tablet.get("/").headers["location"] == "/pair"
    assert tablet.post("/jobs", **new_job(origin="http://van.lan")).headers["location"] == "/pair"  # type: ignore[arg-type]
    origin = {"origin": "http://van.lan"}
    assert tablet.post("/pair", data={"code": "12345679"}, headers=origin).status_code == 422
    paired = tablet.post("/pair", data={"code": "1234 5678"}, headers=origin)
    assert (paired.status_code, paired.headers["location"]) == (303, "/")
    assert "HttpOnly" in paired.headers["set-cookie"]
    assert tablet.get("/").status_code == 200
    other = TestClient(app, base_url="http://van.lan", client=("10.0.0.8", 5000), follow_redirects=False)
    assert other.get("/").headers["location"] == "/pair"


def test_guessing_the_code_ends() -> None:
    access = Access(hosts=("van.lan",), code="12345678")
    for number in range(MOST_TRIES):
        assert not access.gives(f"{number:08d}")
    assert not access.gives("12345678")


def test_without_the_switch_no_other_device_is_let_in_by_a_code() -> None:
    assert not Access().gives("")


def test_a_body_past_the_limit_is_refused_whole(tmp_path: Path) -> None:
    pages = client(tmp_path, Access(largest_upload=1000))
    answer = pages.post("/jobs", data={"name": "x" * 2000}, headers=SAME)
    assert answer.status_code == 413
    assert "nothing was kept" in answer.text
    assert "No job yet" in pages.get("/").text


def test_every_answer_carries_a_policy_without_inline_script_or_style(tmp_path: Path) -> None:
    pages = client(tmp_path)
    for path in ("/", "/nowhere", "/job/not-an-id", "/assets/style.css"):
        policy = pages.get(path).headers["content-security-policy"]
        assert "script-src 'self'" in policy
        assert "unsafe-inline" not in policy
        assert "frame-ancestors 'none'" in policy
    assert pages.get("/assets/../app.py").status_code == 404
    assert pages.get("/assets/%2e%2e/app.py").status_code == 404


def test_only_files_that_do_not_change_stay_on_a_device(tmp_path: Path) -> None:
    pages = client(tmp_path)
    named = [asset_address("style.css"), asset_address("page.js"), "/assets/fonts/STIXTwoText-400.ttf"]
    assert {pages.get(path).headers["cache-control"] for path in named} == {"max-age=31536000, immutable"}
    kept = {pages.get(path).headers["cache-control"] for path in ("/", "/?x", "/assets/style.css", "/assets/no.css?x")}
    assert kept == {"no-store"}


def test_no_page_or_script_asks_for_anything_from_elsewhere() -> None:
    web = Path(__file__).parents[2] / "src" / "airtally" / "web"
    own = [*web.rglob("*.html"), *web.rglob("*.css"), *(p for p in web.rglob("*.js") if not p.name.startswith("uPlot"))]
    assert len(own) > 10
    named = [path.name for path in own if "http://" in path.read_text() or "https://" in path.read_text()]
    assert named == []


def test_host_names_lose_their_ports_only() -> None:
    assert host_name("127.0.0.1:8417") == "127.0.0.1"
    assert host_name("[::1]:8417") == "[::1]"
    assert host_name("Van.Lan:1") == "van.lan"
    assert host_name("a@b:1") == "b"
