"""Pages, runs and refusals over HTTP."""

from collections.abc import AsyncIterator
from pathlib import Path
from typing import cast

import httpx
import pytest

from server.desk.access import CONTENT_POLICY, MESSAGE_BYTES, Hosts
from server.desk.pages import PAGES, web_folder
from server.desk.schedules import ScheduleDocument
from server.desk.shells import worker_text
from server.live import LiveRun
from server.timeline.schedule import schedule_from_plan
from tests.desk.service import app_of, event, live_runs
from tests.live.fakes import PLAN

AT = "http://127.0.0.1:8440"


@pytest.fixture
async def client(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    """A client of an application with two runs."""
    async with live_runs(tmp_path, "one", "two") as (runs, _):
        app = app_of(runs)
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url=AT) as client:
            yield client


async def report(client: httpx.AsyncClient, origin: str | None = None, **keys: str) -> httpx.Response:
    headers = {"origin": origin} if origin is not None else None
    return await client.post("/api/runs/one/events", json=event("e1", **keys)["event"], headers=headers)


async def test_the_list_has_every_live_run(client: httpx.AsyncClient) -> None:
    """The lobby and the chooser start from it."""
    runs = (await client.get("/api/runs")).json()
    assert [run["run"] for run in runs] == ["one", "two"]
    assert runs[0] == {
        "run": "one",
        "title": "Two Lanterns",
        "site": None,
        "timezone": "UTC",
        "zero": "2026-03-14T23:50:00Z",
        "demo": False,
        "fault": None,
    }


async def test_a_run_can_be_read_without_a_websocket(client: httpx.AsyncClient) -> None:
    """What a new desk begins with, for programs."""
    snapshot = (await client.get("/api/runs/two")).json()
    assert (snapshot["type"], snapshot["info"]["run"]) == ("snapshot", "two")


async def test_the_schedule_is_that_of_the_plan(client: httpx.AsyncClient) -> None:
    """No number of it is rounded or lost on the way."""
    told = (await client.get("/api/runs/one/schedule")).json()
    assert told == ScheduleDocument.model_validate(schedule_from_plan(PLAN).as_json()).model_dump(mode="json")
    assert told["stations"][1]["passes"] == schedule_from_plan(PLAN).stations[1].passes


async def test_an_event_can_be_reported(client: httpx.AsyncClient) -> None:
    """The answer says where it is in the log, and sent again it is the same."""
    answers = [await report(client) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert (
        answers[0].json() == answers[1].json() == {"type": "taken", "id": "e1", "seq": 1, "t": "2026-03-14T23:51:40Z"}
    )
    assert (await client.get("/api/runs/one")).json()["events"][0]["id"] == "e1"
    assert (await client.get("/api/runs/two")).json()["events"] == []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({}, "id: found nothing; accepted is a value"),
        (
            {"id": "e1", "kind": "note", "source": "tap", "colour": 1},
            "colour: found an unknown key; accepted is a request",
        ),
        ([], "found no JSON object; accepted is one"),
    ],
)
async def test_what_is_no_event_at_all_is_said_plainly(client: httpx.AsyncClient, body: object, said: str) -> None:
    """Where it is, what was found and what is accepted, in no library's words."""
    answer = await client.post("/api/runs/one/events", json=body)
    assert (answer.status_code, said in answer.json()["reason"]) == (422, True), answer.text


async def test_an_event_that_is_none_is_refused(client: httpx.AsyncClient) -> None:
    """What is wrong with it is said: 422."""
    for keys, named in (({"kind": "exploded"}, "exploded"), ({"colour": "red"}, "colour"), ({"mark": "t1"}, "mark")):
        answer = await report(client, **keys)
        assert answer.status_code == 422
        assert named in answer.json()["reason"]


async def test_an_event_that_this_run_cannot_have_is_refused(client: httpx.AsyncClient) -> None:
    """An unknown station, an id with other contents: 409, and why."""
    await report(client)
    for keys, named in (({"station": "b"}, "e1"), ({"id": "e2", "station": "nowhere"}, "nowhere")):
        answer = await report(client, **keys)
        assert answer.status_code == 409
        assert named in answer.json()["reason"]


@pytest.mark.parametrize(
    "path", ["/api/runs/three", "/api/runs/three/schedule", "/api/nothing", "/nothing", "/static/no.js"]
)
async def test_what_is_not_here_is_said_in_a_sentence(client: httpx.AsyncClient, path: str) -> None:
    """404, as JSON, whoever asks."""
    answer = await client.get(path)
    assert answer.status_code == 404
    assert answer.json()["reason"].endswith(".")


@pytest.mark.parametrize(
    "path", [*PAGES, "/api/runs", "/api/nothing", "/static/js/picture/film.js", "/static/css/tokens.css"]
)
async def test_every_answer_carries_the_security_headers(client: httpx.AsyncClient, path: str) -> None:
    """Own scripts and styles only, no framing, no guessing of types, no referrer, and no stale copy."""
    headers = (await client.get(path)).headers
    assert headers["content-security-policy"] == CONTENT_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["cache-control"] == "no-cache"


def test_the_policy_allows_nothing_but_our_own() -> None:
    """No inline code, no other host, no markup from text but lit's own templates, no worker but the booth desk's."""
    rules = dict(rule.split(" ", 1) for rule in CONTENT_POLICY.split("; "))
    assert rules.pop("require-trusted-types-for") == "'script'"
    assert rules.pop("trusted-types") == "lit-html booth-shell"
    assert set(rules.values()) == {"'none'", "'self'"}
    assert [
        name for name in ("default-src", "base-uri", "form-action", "frame-ancestors") if rules[name] != "'none'"
    ] == []


async def test_the_booth_desks_worker_is_a_script_above_its_page(client: httpx.AsyncClient) -> None:
    """A service worker serves only what lies below its own address; browsers refuse one that is no script."""
    answer = await client.get("/booth-worker.js")
    assert (answer.status_code, answer.headers["content-type"].partition(";")[0]) == (200, "text/javascript")
    assert answer.text == worker_text(web_folder())


@pytest.mark.parametrize("path", PAGES)
async def test_every_page_is_there(client: httpx.AsyncClient, path: str) -> None:
    """A checkout serves web/ itself."""
    answer = await client.get(path)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"


async def test_scripts_have_the_type_that_browsers_ask_for(client: httpx.AsyncClient) -> None:
    """A module of another type is not run (HTML standard, 8.1.3: a JavaScript MIME type)."""
    answer = await client.get("/static/js/picture/film.js")
    assert answer.headers["content-type"] == "text/javascript; charset=utf-8"
    again = await client.get("/static/js/picture/film.js", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.headers["cache-control"]) == (304, "no-cache")


@pytest.mark.parametrize(
    "path",
    ["/static/build_hook.py", "/static/package.json", "/static/../pyproject.toml", "/static/%2e%2e/pyproject.toml"],
)
async def test_tools_and_other_folders_are_not_served(client: httpx.AsyncClient, path: str) -> None:
    """What a page needs is served, and nothing beside it."""
    assert (await client.get(path)).status_code == 404


@pytest.mark.parametrize("host", ["hostile.example", "127.0.0.1.hostile.example", "192.0.2.7", "", "[::1", "a:b:c"])
async def test_a_name_that_is_not_ours_is_refused(client: httpx.AsyncClient, host: str) -> None:
    """A hostile page whose name points at this computer gets nothing (DNS rebinding)."""
    answer = await client.get("/api/runs", headers={"host": host})
    assert answer.status_code == 421
    assert answer.json()["reason"].endswith(".")


@pytest.mark.parametrize("host", ["127.0.0.1:8440", "localhost", "LOCALHOST:1", "[::1]:8440", "127.0.0.2"])
async def test_loopback_names_are_ours(client: httpx.AsyncClient, host: str) -> None:
    """However this computer is called on itself."""
    assert (await client.get("/api/runs", headers={"host": host})).status_code == 200


def test_a_server_that_is_open_has_its_own_name_and_addresses() -> None:
    """Bound to every address, plain addresses pass, for no name can be made to point there; other names do not."""
    hosts = Hosts("0.0.0.0")
    assert "192.168.1.20:8440" in hosts
    assert "[fe80::1]:8440" in hosts
    assert "hostile.example" not in hosts
    assert "booth.example" in Hosts("booth.example")


def test_a_server_has_the_names_of_its_certificate() -> None:
    """Nobody else can show it, so no page of another name comes by it; a star stands for one label."""
    hosts = Hosts("0.0.0.0", ["festoon.example", "*.booths.example"])
    assert "Festoon.example:8440" in hosts
    assert "north.booths.example" in hosts
    assert "a.north.booths.example" not in hosts
    assert "booths.example" not in hosts
    assert "festoon.example" not in Hosts("127.0.0.1", ["festoon.example"])


@pytest.mark.parametrize("origin", ["http://hostile.example", "null", "http://127.0.0.1:1", "http://[", "file://"])
async def test_a_page_from_elsewhere_may_not_report(client: httpx.AsyncClient, origin: str) -> None:
    """A browser says where a page came from, and a page from elsewhere changes nothing."""
    answer = await report(client, origin=origin)
    assert answer.status_code == 403
    assert (await client.get("/api/runs/one")).json()["events"] == []


async def test_our_own_page_may_report(client: httpx.AsyncClient) -> None:
    """The desk's origin is the server."""
    assert (await report(client, origin=AT)).status_code == 200


async def test_a_request_has_a_size_that_it_says(client: httpx.AsyncClient) -> None:
    """Nobody fills the memory: 413 for what is too long, 411 for what does not say."""
    assert (await report(client, text="x" * MESSAGE_BYTES)).status_code == 413

    async def endless() -> AsyncIterator[bytes]:
        yield b"{}"

    assert (await client.post("/api/runs/one/events", content=endless())).status_code == 411


async def test_the_openapi_document_has_the_messages(client: httpx.AsyncClient) -> None:
    """Whoever writes a client finds every message there, those of the websocket as well."""
    schemas = (await client.get("/api/openapi.json")).json()["components"]["schemas"]
    messages = {
        "Snapshot",
        "Change",
        "Beat",
        "TakenAnswer",
        "RefusedAnswer",
        "TimeAnswer",
        "EventMessage",
        "TimeQuestion",
    }
    assert messages | {"RunLine", "ScheduleDocument", "Reason", "ReportedEvent"} <= set(schemas)
    assert "/api/runs/{run_id}/live" not in (await client.get("/api/openapi.json")).json()["paths"]


async def test_a_failure_is_a_sentence_too() -> None:
    """An exception of ours is told as such, with no trace of it; the log has that."""
    app = app_of(cast("dict[str, LiveRun]", {"one": object()}))
    transport = httpx.ASGITransport(app, raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url=AT) as client:
        answer = await client.get("/api/runs/one")
    assert answer.status_code == 500
    assert answer.json() == {"reason": "The server failed at this request; its own output says how."}
    assert answer.headers["content-security-policy"] == CONTENT_POLICY
