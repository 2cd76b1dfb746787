"""Devices that report from the houses: they see the lobby, report what is wrong, and do nothing else."""

import re
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any, get_args

import httpx
import pytest
from starlette.types import Scope
from websockets.asyncio.client import ClientConnection
from websockets.exceptions import ConnectionClosedError, InvalidStatus

from server.access.doorkeeper import REPORTS
from server.desk.app import create_api
from server.desk.pages import PAGES, web_folder
from server.desk.records import Past
from server.desk.reporters import NOT_ITS_OWN, ONLY_REPORTS, TEXT_LENGTH, TOO_LONG
from server.desk.visitors import ENDED, NOT_PAIRED, OPEN_TO_ALL, PAIR
from server.runlog import RunLog, RunLogFault
from server.timeline.event_kinds import EventKind
from tests.access.fakes import Entrance
from tests.desk.service import Json, Service, heard, said, serving

REPORT = {"id": "r1", "kind": "report", "station": "a", "what": "no_sound", "source": "tap"}
READS = ("/api/me", "/api/runs", "/api/runs/{run_id}", "/api/runs/{run_id}/schedule")
EVENTS = "/api/runs/{run_id}/events"
Way = Callable[[Service, str, Json], Awaitable[Json]]


def elsewhere(_scope: Scope) -> bool:
    """All 127.0.0.0/8 is this computer: here nobody is."""
    return False


@pytest.fixture
async def service(tmp_path: Path) -> AsyncIterator[Service]:
    """A live run, and nobody at its computer."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        yield service


async def paired(service: Service, name: str = "Otto", role: Any = "report") -> tuple[str, str]:
    """The id of a pairing, and the cookie of its device."""
    pairing, token = await service.entrance.pairings.add(name, role)
    return pairing.id, f"festoon={token}"


def client(service: Service, cookie: str) -> httpx.AsyncClient:
    return httpx.AsyncClient(base_url=f"http://{service.host}", headers={"cookie": cookie}, trust_env=False)


async def by_http(service: Service, cookie: str, event: Json) -> Json:
    """The answer to one event that is posted."""
    async with client(service, cookie) as device:
        answer: Json = (await device.post("/api/runs/one/events", json=event)).json()
        return answer


async def by_websocket(service: Service, cookie: str, event: Json) -> Json:
    """The same over a websocket of its own."""
    async with service.desk(cookie=cookie) as desk:
        return await said(desk, {"type": "event", "event": event})


WAYS = pytest.mark.parametrize("way", [by_http, by_websocket])


def taken(service: Service) -> list[tuple[str, str, str | None]]:
    """Id, kind and person of every event that the run has."""
    return [(event.id, event.kind, event.by) for event in service.runs["one"].events]


@WAYS
async def test_a_report_is_by_the_person_of_the_device(service: Service, way: Way) -> None:
    """Whatever it says of who and from where; the booth's alarm names them, and so does the log."""
    pairing_id, cookie = await paired(service)
    answer = await way(service, cookie, REPORT | {"by": "Ida", "source": "contact:box", "text": "left side"})
    assert (answer["type"], answer["id"]) == ("taken", "r1")
    (event,) = service.runs["one"].events
    assert (event.by, event.source) == ("Otto", f"tap:{pairing_id}")
    (report,) = service.runs["one"].view.reports
    assert (report.station, report.what, report.by, report.text) == ("a", "no_sound", "Otto", "left side")


@WAYS
@pytest.mark.parametrize("kind", [kind for kind in get_args(EventKind) if kind not in {"report", "retract"}])
async def test_every_other_kind_is_refused(service: Service, way: Way, kind: str) -> None:
    """Starts, stops, lamps, holds, calls, acknowledgements: nothing but a report, with the reason."""
    _, cookie = await paired(service)
    keys = {"station": "a", "mark": "head", "seconds": 1, "alarm": "house_report:a", "to": "all", "text": "x"}
    answer = await way(service, cookie, {"id": "x", "kind": kind, "source": "tap"} | keys)
    assert answer == {"type": "refused", "id": "x", "reason": ONLY_REPORTS, "again": False}
    assert taken(service) == []


@WAYS
@pytest.mark.parametrize("kind", [None, 7, ["report"], "reports"])
async def test_what_is_no_kind_is_refused(service: Service, way: Way, kind: object) -> None:
    """Nothing gets past the door by being odd."""
    _, cookie = await paired(service)
    await way(service, cookie, REPORT | {"kind": kind})
    assert taken(service) == []


@WAYS
async def test_it_takes_back_its_own_report(service: Service, way: Way) -> None:
    """The wrong house was touched: the report is gone, and so is the booth's alarm; sent again it is the same."""
    _, cookie = await paired(service)
    back = {"id": "r2", "kind": "retract", "retracts": "r1", "source": "tap", "t": "2026-03-14T23:51:40Z"}
    for event in (REPORT, back, back):
        assert (await way(service, cookie, event))["type"] == "taken"
    view = service.runs["one"].view
    assert (view.reports, [alarm.kind for alarm in view.alarms if alarm.state != "returned"]) == ((), [])
    assert taken(service) == [("r1", "report", "Otto"), ("r2", "retract", "Otto")]


@WAYS
async def test_it_takes_back_nothing_of_others(service: Service, way: Way) -> None:
    """Neither the booth's start, nor the report of another device of a person of the same name, nor what is not."""
    _, booth = await paired(service, "Ida", "booth")
    _, other = await paired(service)
    _, cookie = await paired(service)
    start = {"id": "s1", "kind": "motor_start", "station": "a", "source": "tap"}
    for device, event in ((booth, start), (booth, REPORT | {"id": "b1", "by": "Otto"}), (other, REPORT | {"id": "o1"})):
        assert (await way(service, device, event))["type"] == "taken"
    for number, retracts in enumerate(("s1", "b1", "o1", "nothing", None)):
        back = {"id": f"x{number}", "kind": "retract", "retracts": retracts, "source": "tap"}
        answer = await way(service, cookie, back)
        assert (answer["type"], answer["reason"], answer["again"]) == ("refused", NOT_ITS_OWN, False)
    assert [event_id for event_id, *_ in taken(service)] == ["s1", "b1", "o1"]


async def test_it_takes_back_its_own_after_a_restart(tmp_path: Path) -> None:
    """Whose a report is stands in the log."""
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        pairing, token = await service.entrance.pairings.add("Otto", "report")
        assert (await by_http(service, f"festoon={token}", REPORT))["type"] == "taken"
    async with serving(tmp_path, "one", is_here=elsewhere) as service:
        await service.entrance.store.add(pairing)
        service.entrance.pairings._held[pairing.id] = pairing
        back = {"id": "r2", "kind": "retract", "retracts": "r1", "source": "tap"}
        assert (await by_http(service, f"festoon={token}", back))["type"] == "taken"


@WAYS
@pytest.mark.parametrize("text", ["x" * (TEXT_LENGTH + 1), "two\nlines", "a\u2028b", "bell\x07"])
async def test_its_words_are_one_short_line(service: Service, way: Way, text: str) -> None:
    """What is read out in the dark is no letter."""
    _, cookie = await paired(service)
    assert (await way(service, cookie, REPORT | {"text": text}))["reason"] == TOO_LONG
    assert (await way(service, cookie, REPORT | {"text": "x" * TEXT_LENGTH}))["type"] == "taken"


@WAYS
async def test_a_flood_is_slowed(service: Service, way: Way) -> None:
    """Six at once, then one in 20 s; what is too much may be sent again later, and other devices are not held up."""
    _, cookie = await paired(service)
    _, other = await paired(service, "Ines")
    answers = [await way(service, cookie, REPORT | {"id": f"r{number}"}) for number in range(REPORTS.burst + 1)]
    assert [answer["type"] for answer in answers] == ["taken"] * 6 + ["refused"]
    assert (answers[-1]["again"], "send this again later" in answers[-1]["reason"]) == (True, True)
    assert (await way(service, other, REPORT | {"id": "o1"}))["type"] == "taken"
    service.entrance.time.passes(seconds=19.9)
    assert (await way(service, cookie, REPORT | {"id": "r6"}))["type"] == "refused"
    service.entrance.time.passes(seconds=0.2)
    assert (await way(service, cookie, REPORT | {"id": "r6"}))["type"] == "taken"


async def test_what_it_may_not_say_uses_none_of_what_it_may(service: Service) -> None:
    """A page that asks for the wrong thing again and again still gets its report through."""
    _, cookie = await paired(service)
    for number in range(3 * REPORTS.burst):
        await by_http(service, cookie, {"id": f"x{number}", "kind": "chain_stop", "source": "tap"})
    assert (await by_http(service, cookie, REPORT))["type"] == "taken"


async def test_withdrawn_it_is_out_at_once(service: Service) -> None:
    """In the middle of a connection: that closes with 4403, what it said stands, and it gets no further in any way."""
    pairing_id, cookie = await paired(service)
    async with service.desk(cookie=cookie) as desk:
        await heard(desk, "snapshot")
        assert (await said(desk, {"type": "event", "event": REPORT}))["type"] == "taken"
        await service.entrance.pairings.withdraw(pairing_id)
        with pytest.raises(ConnectionClosedError) as closed:
            await _all_of(desk)
        assert closed.value.rcvd is not None
        assert closed.value.rcvd.code == 4403
    assert await by_http(service, cookie, REPORT | {"id": "r2"}) == {"reason": NOT_PAIRED}
    async with client(service, cookie) as device:
        assert (await device.get("/lobby")).status_code == 401
    assert taken(service) == [("r1", "report", "Otto")]


async def _all_of(desk: ClientConnection) -> None:
    while True:
        await desk.recv()


async def test_a_pairing_that_ends_by_itself_reports_no_more(service: Service) -> None:
    """A phone whose lobby stays open past the end of its pairing is told to pair anew."""
    _, cookie = await paired(service)
    async with service.desk(cookie=cookie) as desk:
        await heard(desk, "snapshot")
        service.entrance.time.passes(days=30)
        assert (await said(desk, {"type": "event", "event": REPORT}))["reason"] == ENDED


async def test_it_sees_the_lobby(service: Service) -> None:
    """The page, its files, who it is, the runs, and each run's state and schedule; and what happens to it."""
    _, cookie = await paired(service)
    paths = ["/lobby", "/static/js/main/lobby.js", "/api/runs", "/api/runs/one", "/api/runs/one/schedule", "/pair"]
    async with client(service, cookie) as device:
        assert [(await device.get(path)).status_code for path in paths] == [200] * len(paths)
        assert (await device.get("/api/me")).json() == {"name": "Otto", "role": "report", "local": False}
    _, booth = await paired(service, "Ida", "booth")
    async with service.desk(cookie=cookie) as desk:
        await heard(desk, "snapshot")
        await by_http(service, booth, {"id": "s1", "kind": "motor_start", "station": "a", "source": "tap"})
        assert (await heard(desk, "change"))["events"][0]["id"] == "s1"


@pytest.mark.parametrize("page", [page for page in PAGES if page not in {"/lobby", *OPEN_TO_ALL}] + ["/nothing"])
async def test_every_other_page_leads_to_the_lobby(service: Service, page: str) -> None:
    """Whoever opens the wall's address has the lobby; no browser keeps that for when the device may do more."""
    _, cookie = await paired(service)
    async with client(service, cookie) as device:
        answer = await device.get(f"{page}?run=one")
        assert (answer.status_code, answer.headers["location"]) == (303, "/lobby")
        assert (answer.headers["cache-control"], answer.content) == ("no-store", b"")
        assert "content-security-policy" in answer.headers


def every_route(folder: Path) -> list[tuple[str, str]]:
    """Method and path of every route below /api, with those of a server that keeps a log."""
    log = RunLog.open(folder)
    past = Past(log, Entrance().time.now, (RunLogFault,))
    paths = create_api({}, web_folder(), Entrance().doorkeeper, lambda: None, past).openapi()["paths"]
    log.close()
    return [(method.upper(), path) for path, methods in paths.items() for method in methods]


async def test_every_other_route_is_refused(service: Service, tmp_path: Path) -> None:
    """Of all that the server has, whether it is safe or not, but for the lobby's reads and the report itself."""
    _, cookie = await paired(service)
    open_to_it = {*(("GET", path) for path in READS), ("POST", EVENTS), ("POST", PAIR)}
    known = {*every_route(tmp_path / "log"), ("GET", "/api/openapi.json"), ("PUT", "/lobby"), ("POST", "/lobby")}
    refused = known - open_to_it
    assert known - refused == open_to_it
    assert {("POST", "/api/pairings/codes"), ("GET", "/api/library"), ("GET", "/api/pairings")} <= refused
    async with client(service, cookie) as device:
        for method, path in sorted(refused):
            answer = await device.request(method, re.sub(r"\{[^}]*\}", "one", path), json={})
            assert (answer.status_code, answer.json()) == (403, {"reason": ONLY_REPORTS}), (method, path)
    assert taken(service) == []


@pytest.mark.parametrize(
    "path",
    [
        "/api/runs/one/contacts",
        "/API/me",
        "/api//runs",
        "//api/runs",
        "/api/runs/",
        "/api/runs/one/",
        "/api/runs/one/events",
        "/api/runs/one%2Fcontacts",
        "/lobby/%2e%2e/api/pairings",
        "/static/%2e%2e/api/pairings",
        "/api/me/%2e%2e/pairings",
        "/api/me%0a",
    ],
)
async def test_no_odd_path_leads_past_the_door(service: Service, path: str) -> None:
    """Only what the lobby asks for, letter for letter, is answered by what stands behind the door."""
    _, cookie = await paired(service)
    async with client(service, cookie) as device:
        answer = await device.get(path)
        assert answer.status_code in {303, 403, 404}
        assert '"one"' not in answer.text
        assert "Otto" not in answer.text


async def test_it_may_open_no_other_websocket(service: Service) -> None:
    """There is the one of a run today; another that comes later is closed to it until somebody says otherwise."""
    _, cookie = await paired(service)
    for run in ("one/contacts", "one/live", "%2e%2e/one"):
        with pytest.raises(InvalidStatus) as refused:
            await service.desk(run, cookie=cookie)
        assert refused.value.response.status_code == 403


async def test_it_makes_and_ends_no_pairing(service: Service) -> None:
    """Neither by the routes of the paired devices, nor does it see whose the others are."""
    pairing_id, cookie = await paired(service)
    async with client(service, cookie) as device:
        answers = [
            await device.get("/api/pairings"),
            await device.post("/api/pairings/codes", json={"name": "Eve", "role": "booth"}),
            await device.post(f"/api/pairings/{pairing_id}/withdrawal", json={}),
        ]
    assert [(answer.status_code, answer.json()["reason"]) for answer in answers] == [(403, ONLY_REPORTS)] * 3
    assert len(service.entrance.pairings.all()) == 1


async def test_a_booth_desk_makes_its_code(service: Service) -> None:
    """The code pairs a device of this role, and the list says what it does."""
    _, booth = await paired(service, "Ida", "booth")
    async with client(service, booth) as desk, client(service, "") as phone:
        made = (await desk.post("/api/pairings/codes", json={"name": "Otto", "role": "report"})).json()
        answer = await phone.post("/api/pairing", json={"code": made["code"]})
        assert answer.json() == {"name": "Otto", "role": "report", "local": False}
        roles = [(line["name"], line["role"]) for line in (await desk.get("/api/pairings")).json()]
    assert roles == [("Ida", "booth"), ("Otto", "report")]
